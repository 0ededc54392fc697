"""The stations of `reconnect`: all dial at once, with Basic keys, tell a boot and a status, and stay.

A process of its own, with bare sockets. Prints how many were served, how often one had to dial again,
and the seconds until each was served; then waits for a line before it hangs up.
"""

import asyncio
import base64
import json
import sys
import time
from dataclasses import dataclass

from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import WebSocketException
from websockets.typing import Subprotocol

TRIES = 20
BOOT = {"chargePointVendor": "Weir", "chargePointModel": "Sluice 22"}
STATUS = {"connectorId": 1, "errorCode": "NoError", "status": "Available"}


@dataclass(slots=True)
class Count:
    """What came of all. `again`: dials that failed and were made once more."""

    served_s: list[float]
    again: int = 0


async def station(url: str, number: int, key: str, count: Count, sockets: list[ClientConnection]) -> None:
    """Dial until let in, be served, stay."""
    name = f"BAY-{number:04d}"
    pair = base64.b64encode(f"{name}:{key}".encode()).decode()
    begun = time.monotonic()
    for _ in range(TRIES):
        try:
            socket = await connect(
                f"{url}{name}",
                subprotocols=[Subprotocol("ocpp1.6")],
                additional_headers={"Authorization": f"Basic {pair}"},
                proxy=None,
                compression=None,
                open_timeout=120,
                ping_interval=None,
            )
            await call(socket, "1", "BootNotification", BOOT)
            await call(socket, "2", "StatusNotification", STATUS)
        except (OSError, TimeoutError, WebSocketException):
            count.again += 1
            await asyncio.sleep(1)
            continue
        sockets.append(socket)
        count.served_s.append(time.monotonic() - begun)
        return


async def call(socket: ClientConnection, number: str, action: str, payload: object) -> None:
    """Say it and wait for the answer; a refusal counts as none."""
    await socket.send(json.dumps([2, number, action, payload]))
    while True:
        frame = json.loads(await socket.recv())
        if frame[0] == 3 and frame[1] == number:
            return
        if frame[0] == 4:
            raise ConnectionError(frame)


async def main(url: str, stations: int, key: str) -> None:
    count, sockets = Count([]), list[ClientConnection]()
    await asyncio.gather(*(station(url, number, key, count, sockets) for number in range(stations)))
    told = {"served": len(count.served_s), "again": count.again, "seconds": sorted(count.served_s)}
    print(json.dumps(told), flush=True)
    await asyncio.to_thread(sys.stdin.readline)
    await asyncio.gather(*(socket.close() for socket in sockets))


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1], int(sys.argv[2]), sys.argv[3]))
