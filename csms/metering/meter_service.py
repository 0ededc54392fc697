"""One building meter: listened to, watched for silence, its readings handed on and kept thinned."""

import logging
from collections.abc import Awaitable, Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import ClassVar, Self

from csms.clock import Clock
from csms.errors import InvalidInput, MeterFault
from csms.metering import repository
from csms.metering.building import (
    LineReading,
    MeterStatus,
    back_off_s,
    missing,
    of_circuit,
    silent_after_s,
    worth_a_row,
)
from csms.metering.inputs import parse_input
from csms.metering.meter_input import Ear, MeterInput
from csms.sites.model import Circuit, CircuitMeter
from csms.store import outbox
from csms.store.change import Change
from csms.store.database import Database
from csms.store.outbox import Fact
from csms.tasks import Tasks

log = logging.getLogger(__name__)

Hear = Callable[[Circuit, Mapping[str, float], datetime], Awaitable[None]]
"""Whom readings are for: the circuit, A by line, and when."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Surroundings:
    """What all meters share. `secrets`: folder of the files that hold passwords and certificates."""

    database: Database
    clock: Clock
    secrets: Path
    silent_at_least_s: float
    hear: Hear
    first_retry_s: float = 1.0
    most_retry_s: float = 60.0


@dataclass(frozen=True, slots=True)
class Unusable:
    """Stored settings that cannot be read."""

    kind: ClassVar[str] = "unusable"

    problem: str

    @classmethod
    def parse(cls, fields: Mapping[str, object], path: str) -> Self:
        return cls(path)

    async def listen(self, ear: Ear) -> None:
        raise MeterFault(self.problem)


class WatchedMeter:
    """The meter at `circuit` (`csms.metering.meter_input.Ear` of its input)."""

    def __init__(self, circuit: Circuit, meter: CircuitMeter, around: Surroundings) -> None:
        self.circuit = circuit
        self.meter = meter
        self._around = around
        self._tasks = Tasks()
        self._since = around.clock.now()
        self._last: LineReading | None = None
        self._row: LineReading | None = None
        self._heard = 0
        self._silent = False
        self._error = ""
        try:
            self.input: MeterInput = parse_input(meter.input)
        except InvalidInput as error:
            self.input = Unusable(str(error))

    # What its input sees

    @property
    def clock(self) -> Clock:
        return self._around.clock

    @property
    def period_s(self) -> float:
        return self.meter.period_s

    @property
    def longest_silence_s(self) -> float:
        return silent_after_s(self.meter.period_s, self._around.silent_at_least_s)

    async def heard(self, reading: LineReading) -> None:
        """A reading for power and, now and then, for the database. Older ones than the last are dropped."""
        now = self.clock.now()
        lines = of_circuit(reading.current_a, self.circuit.limit_a)
        reading = LineReading(min(reading.at, now), lines)
        if not reading.told:
            self.trouble("the reading has no line of this circuit")
            return
        if self._last is not None and reading.at < self._last.at:
            return
        self._last = reading
        self._heard += 1
        self._error = ""
        try:
            await self._around.hear(self.circuit, reading.told, reading.at)
        except InvalidInput as error:
            # Just after a change power may not know the circuit's meter yet; the next reading will be heard.
            log.info("a reading of circuit %s came too early: %s", self.circuit.id, error)
        changes: list[Change] = []
        if self._silent and self._is_fresh(now):
            self._silent = False
            changes.append(outbox.change(self._fact("meter.back", now)))
        if worth_a_row(self._row, reading, self.circuit.limit_a):
            self._row = reading
            changes.append(repository.circuit_change(self.circuit.id, self.meter.counts.value, reading))
        await self._write(*changes)

    def trouble(self, problem: str) -> None:
        self._error = problem

    def secret(self, name: str) -> str:
        try:
            return Path(self.secret_path(name)).read_text().strip()
        except (OSError, UnicodeDecodeError):
            raise MeterFault(f"the file secrets/{name} in the data folder cannot be read") from None

    def secret_path(self, name: str) -> str:
        path = self._around.secrets / name
        if not path.is_file():
            raise MeterFault(f"there is no file secrets/{name} in the data folder")
        return str(path)

    # Its life

    def start(self) -> None:
        self._tasks.spawn(self._listen(), f"meter of {self.circuit.id}")
        self._tasks.spawn(self._watch(), f"silence of the meter of {self.circuit.id}")

    async def stop(self) -> None:
        await self._tasks.close()

    def status(self) -> MeterStatus:
        now, last = self.clock.now(), self._last
        return MeterStatus(
            circuit_id=self.circuit.id,
            kind=self.input.kind,
            period_s=self.meter.period_s,
            silent_after_s=self.longest_silence_s,
            last=last,
            age_s=None if last is None else (now - last.at).total_seconds(),
            fresh=self._is_fresh(now),
            missing=() if last is None else missing(last.current_a, self.circuit.limit_a),
            error=self._error,
        )

    def _is_fresh(self, now: datetime) -> bool:
        return self._last is not None and (now - self._last.at).total_seconds() <= self.longest_silence_s

    async def _listen(self) -> None:
        failures = 0
        while True:
            before = self._heard
            try:
                await self.input.listen(self)
                problem = "the connection ended"
            except MeterFault as error:
                problem = str(error)
            except Exception:
                log.exception("the meter of circuit %s failed", self.circuit.id)
                problem = "failed for a reason of ours; see the log"
            failures = 1 if self._heard > before else failures + 1
            if failures == 1 or problem != self._error:
                log.warning("meter of circuit %s: %s", self.circuit.id, problem)
            self._error = problem
            around = self._around
            await self.clock.sleep(
                back_off_s(failures, first_s=around.first_retry_s, most_s=around.most_retry_s)
            )

    async def _watch(self) -> None:
        while True:
            now = self.clock.now()
            seen = self._since if self._last is None else self._last.at
            left_s = self.longest_silence_s - (now - seen).total_seconds()
            if left_s < 0:
                if not self._silent:
                    self._silent = True
                    await self._write(outbox.change(self._fact("meter.silent", now)))
                left_s = self.longest_silence_s
            # A little more than what is left: at the very moment it is still fresh.
            await self.clock.sleep(left_s + 0.01)

    async def _write(self, *changes: Change) -> None:
        if not changes:
            return
        try:
            await self._around.database.writer.add(*changes)
        except Exception:
            # A disk that is full must not blind the sharing of power.
            log.exception("what the meter of circuit %s told could not be kept", self.circuit.id)

    def _fact(self, topic: str, now: datetime) -> Fact:
        last = self._last
        body = {
            "circuit": self.circuit.name,
            "kind": self.input.kind,
            "last_at": None if last is None else last.at.isoformat(),
            "current_a": None if last is None else last.told,
            "problem": self._error,
        }
        site_id = self.circuit.site_id
        return Fact(topic=topic, at=now, site_id=site_id, subject=self.circuit.id, body=body)
