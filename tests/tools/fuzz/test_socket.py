import pytest
from websockets.exceptions import ConnectionClosed, ConnectionClosedError

from tools.fuzz.socket import Wire


async def test_what_is_said_is_received_in_order_until_the_station_goes() -> None:
    wire = Wire()
    wire.say("a")
    wire.say(b"b")
    wire.hang_up()
    assert [await wire.recv(), await wire.recv()] == ["a", b"b"]
    with pytest.raises(ConnectionClosedError):
        await wire.recv()


async def test_what_we_close_stays_closed_with_the_first_code() -> None:
    wire = Wire()
    await wire.send("x")
    await wire.close(1008, "enough")
    await wire.close(1000, "again")
    for action in (wire.recv(), wire.send("y")):
        with pytest.raises(ConnectionClosed):
            await action
    assert (list(wire.sent), wire.closed and wire.closed.code) == (["x"], 1008)
