"""The other side of `load_step`: stations in a process of their own that note when a limit reaches them.

    python -m tools.bench.lowering_stations URL COUNT

Each is an OCPP 1.6J station with a three-line car that takes whatever it is offered. Standard
output has a line per live limit: monotonic nanoseconds of its arrival, station, ampere.
"""

import asyncio
import base64
import sys
import time
from collections.abc import Mapping
from datetime import UTC, datetime

import orjson
from websockets.asyncio.client import ClientConnection, connect
from websockets.typing import Subprotocol

SAMPLE_S = 5.0


class Station:
    """One station with one car; `limit_a` is what the running transaction is offered."""

    def __init__(self, identity: str) -> None:
        self.identity = identity
        self.limit_a = 0.0
        self._answers: dict[str, asyncio.Future[list[object]]] = {}
        self._number = 0
        self._register_wh = 0.0

    async def run(self, url: str, key: str) -> None:
        secret = base64.b64encode(f"{self.identity}:{key}".encode()).decode()
        async with connect(
            f"{url}{self.identity}",
            subprotocols=[Subprotocol("ocpp1.6")],
            additional_headers={"Authorization": f"Basic {secret}"},
            compression=None,
        ) as socket:
            reader = asyncio.ensure_future(self._read(socket))
            boot = {"chargePointVendor": "Selvedge", "chargePointModel": "Bench"}
            await self._call(socket, "BootNotification", boot)
            await self._status(socket, "Preparing")
            start = {"connectorId": 1, "idTag": "04A1B2C3D4", "meterStart": 0, "timestamp": now()}
            answer = await self._call(socket, "StartTransaction", start)
            transaction = answer[2]["transactionId"]  # type: ignore[index]
            await self._status(socket, "Charging")
            while not reader.done():
                await self._sample(socket, int(transaction))
                await asyncio.sleep(SAMPLE_S)

    async def _status(self, socket: ClientConnection, status: str) -> None:
        body = {"connectorId": 1, "status": status, "errorCode": "NoError"}
        await self._call(socket, "StatusNotification", body)

    async def _sample(self, socket: ClientConnection, transaction: int) -> None:
        self._register_wh += 3 * 230 * self.limit_a * SAMPLE_S / 3600
        values: list[dict[str, str]] = [
            {"value": f"{self.limit_a:.1f}", "measurand": "Current.Import", "unit": "A", "phase": f"L{n}"}
            for n in (1, 2, 3)
        ]
        values.append({"value": f"{self._register_wh:.0f}", "unit": "Wh"})
        meter = [{"timestamp": now(), "sampledValue": values}]
        body = {"connectorId": 1, "transactionId": transaction, "meterValue": meter}
        await self._call(socket, "MeterValues", body)

    async def _call(self, socket: ClientConnection, action: str, body: Mapping[str, object]) -> list[object]:
        self._number += 1
        key = f"{self.identity}-{self._number}"
        answer: asyncio.Future[list[object]] = asyncio.get_running_loop().create_future()
        self._answers[key] = answer
        await socket.send(orjson.dumps([2, key, action, body]).decode())
        return await answer

    async def _read(self, socket: ClientConnection) -> None:
        async for text in socket:
            frame = orjson.loads(text)
            if frame[0] != 2:
                self._answers.pop(frame[1]).set_result(frame)
                continue
            answer: dict[str, object] = {"status": "Accepted"}
            if frame[2] == "SetChargingProfile":
                self._limited(frame[3]["csChargingProfiles"])
            await socket.send(orjson.dumps([3, frame[1], answer]).decode())

    def _limited(self, profile: dict[str, object]) -> None:
        if profile["chargingProfilePurpose"] != "TxProfile":
            return
        schedule = profile["chargingSchedule"]
        self.limit_a = schedule["chargingSchedulePeriod"][0]["limit"]  # type: ignore[index]
        sys.stdout.write(f"{time.monotonic_ns()} {self.identity} {self.limit_a}\n")
        sys.stdout.flush()


def now() -> str:
    return datetime.now(UTC).isoformat().replace("+00:00", "Z")


async def main(url: str, count: int, key: str) -> None:
    stations = [Station(f"BAY-{number:03d}") for number in range(count)]
    await asyncio.gather(*(station.run(url, key) for station in stations))


if __name__ == "__main__":
    asyncio.run(main(sys.argv[1], int(sys.argv[2]), sys.argv[3]))
