import asyncio

from websockets.exceptions import ConnectionClosedOK

from csms.gateway.outlet import Outlet


class SlowSocket:
    """Writes a text only when let."""

    def __init__(self) -> None:
        self.written: list[str] = []
        self.room = asyncio.Semaphore(0)
        self.ended = False

    async def recv(self) -> str:
        raise AssertionError("not read here")

    async def send(self, message: str) -> None:
        if self.ended:
            raise ConnectionClosedOK(None, None)
        await self.room.acquire()
        self.written.append(message)

    async def close(self, code: int = 1000, reason: str = "") -> None:
        self.ended = True


async def test_texts_leave_in_the_order_in_which_they_were_put() -> None:
    socket = SlowSocket()
    outlet = Outlet(socket)
    outlet.put(["a", "b"])
    first = asyncio.ensure_future(outlet.flush())
    await asyncio.sleep(0)
    outlet.put(["c"])
    second = asyncio.ensure_future(outlet.flush())
    for _ in range(3):
        socket.room.release()
    await asyncio.gather(first, second)
    assert socket.written == ["a", "b", "c"]


async def test_an_ended_socket_swallows_the_rest() -> None:
    socket = SlowSocket()
    outlet = Outlet(socket)
    await socket.close()
    outlet.put(["a", "b"])
    await outlet.flush()
    assert socket.written == []
