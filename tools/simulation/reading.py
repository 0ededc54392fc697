"""A simulation out of a YAML file, strictly: every fault with its line, nothing is guessed.

Uses the reader of site files (`csms.sitefile.fields`): all faults at once, unknown keys refused.
"""

from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Final
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput
from csms.power.installation import System
from csms.power.steering.base_load import Counts
from csms.power.steering.timing import Timing
from csms.sitefile.document import compose
from csms.sitefile.fields import Fields, Ledger
from csms.sitefile.places import Fault, nearest
from tools.simulation.arrivals import MODELS
from tools.simulation.description import (
    Arrivals,
    BaseLoad,
    Circuit,
    Description,
    Disturbance,
    LoadKind,
    Messages,
    Meter,
    Station,
    Step,
    Trouble,
    Use,
    Visit,
)
from tools.simulation.server import installation
from tools.simulator.fleet import ROTATIONS

TOP_KEYS: Final = (
    "name", "system", "zone", "first_day", "days", "seed", "delta_margin_percent", "circuits", "stations",
    "loads", "arrivals", "disturbances", "messages", "timing", "idle_look_s", "planned",
)  # fmt: skip
CIRCUIT_KEYS: Final = ("id", "fed_from", "limit_a", "device_a", "worst_base_a", "meter")
METER_KEYS: Final = ("counts", "period_s", "on_change_a", "delay_s")
STATION_KEYS: Final = (
    "id", "count", "circuit", "rotation", "max_current_a", "step_a", "fallback_a", "keeps_profiles", "use",
)  # fmt: skip
LOAD_KEYS: Final = ("circuit", "kind", "current_a", "hourly_a", "houses", "steps")
STEP_KEYS: Final = ("at", "minutes", "current_a", "lines")
ARRIVAL_KEYS: Final = ("cars", "vans", "energy_factor", "ignoring", "sleepy", "van_priority", "visits")
VISIT_KEYS: Final = ("model", "at", "hours", "energy_kwh", "use", "bay")
TROUBLE_KEYS: Final = ("kind", "at", "minutes", "circuit", "share", "while_raising")
MESSAGE_KEYS: Final = ("least_delay_s", "most_delay_s", "lost_percent", "timeout_s", "sample_s")
TIMING_KEYS: Final = ("offer_validity_s", "rotation_s", "raise_delay_s", "meter_stale_s", "unseen_step_a")
LINES: Final = ("L1", "L2", "L3")
MOST_DAYS: Final = 366
MOST_STATIONS: Final = 5_000


class BadFile(Exception):
    """What is wrong, each with its line."""

    def __init__(self, path: Path, faults: tuple[Fault, ...]) -> None:
        super().__init__(path, faults)
        self.path = path
        self.faults = faults

    def __str__(self) -> str:
        return "\n".join(f"{self.path}:{fault.place}: {fault}" for fault in self.faults)


def read(path: Path) -> Description:
    """The simulation that the file describes. Raises BadFile with every fault; OSError."""
    root = compose(path.read_text(encoding="utf-8"))
    if isinstance(root, Fault):
        raise BadFile(path, (root,))
    ledger = Ledger()
    top = Fields(ledger, root, "", TOP_KEYS)
    top.require("name", "system", "first_day", "circuits", "stations")
    reader = _Reader(ledger, top)
    if ledger.faults:
        raise BadFile(path, tuple(ledger.faults))
    found = reader.description()
    if ledger.faults:
        raise BadFile(path, tuple(ledger.faults))
    if found is None:
        raise AssertionError("neither a description nor a fault")
    try:
        installation(found)
    except InvalidInput as error:
        fault = Fault(nearest(ledger.places, error.field), error.field, error.problem)
        raise BadFile(path, (fault,)) from error
    return found


class _Reader:
    def __init__(self, ledger: Ledger, top: Fields) -> None:
        self._ledger = ledger
        self._top = top

    def description(self) -> Description | None:
        top = self._top
        first_day = _day(top, "first_day")
        zone = _zone(top)
        system = top.choice("system", System)
        circuits = [_circuit(fields) for fields in top.mappings("circuits", CIRCUIT_KEYS)]
        names = {circuit.id for circuit in circuits}
        stations = [s for fields in top.mappings("stations", STATION_KEYS) for s in _stations(fields, names)]
        loads = [_load(fields, names) for fields in top.mappings("loads", LOAD_KEYS)]
        arrivals = _arrivals(top.mapping("arrivals", ARRIVAL_KEYS), zone)
        troubles = [_trouble(fields, names, zone) for fields in top.mappings("disturbances", TROUBLE_KEYS)]
        messages = _messages(top.mapping("messages", MESSAGE_KEYS))
        timing = _timing(top.mapping("timing", TIMING_KEYS))
        days = _whole(top, "days", 1, lowest=1, highest=MOST_DAYS)
        seed = _whole(top, "seed", 1, highest=2**31)
        margin = _number(top, "delta_margin_percent", 8.0, highest=100)
        pace_s = _number(top, "idle_look_s", 1.0, lowest=1, highest=3600)
        name = top.text("name")
        if not circuits:
            top.fault("circuits", "must have at least one circuit, the supply")
        if not stations:
            top.fault("stations", "must have at least one station")
        if len({s.id for s in stations}) < len(stations):
            top.fault("stations", "two have the same id; give each its own")
        if len(stations) > MOST_STATIONS:
            top.fault("stations", f"are {len(stations)}; at most {MOST_STATIONS} are simulated")
        if self._ledger.faults or first_day is None or system is None or name is None:
            return None
        return Description(
            name=name,
            system=system,
            zone=zone,
            first_day=first_day,
            days=days,
            seed=seed,
            delta_margin=margin / 100,
            circuits=tuple(circuits),
            stations=tuple(stations),
            loads=tuple(loads),
            arrivals=arrivals,
            disturbances=tuple(troubles),
            messages=messages,
            planned=top.flag("planned", False),
            timing=timing,
            idle_look_s=pace_s,
        )


def _number(
    fields: Fields | None, key: str, default: float, *, lowest: float = 0.0, highest: float = 1e6
) -> float:
    if fields is None or not fields.has(key):
        return default
    value = fields.number(key, lowest=lowest, highest=highest)
    return default if value is None else value


def _whole(fields: Fields, key: str, default: int, *, lowest: int = 0, highest: int) -> int:
    if not fields.has(key):
        return default
    value = fields.whole(key, lowest=lowest, highest=highest)
    return default if value is None else value


def _day(fields: Fields, key: str) -> date | None:
    value = fields.text(key) if fields.has(key) else None
    try:
        return None if value is None else date.fromisoformat(value)
    except ValueError:
        fields.fault(key, f"{value!r} is no day such as 2026-01-12")
        return None


def _zone(fields: Fields) -> ZoneInfo:
    name = fields.text("zone") if fields.has("zone") else "Europe/Amsterdam"
    try:
        return ZoneInfo(name or "UTC")
    except (KeyError, ValueError, OSError):
        fields.fault("zone", f"{name!r} is no time zone such as Europe/Amsterdam")
        return ZoneInfo("UTC")


def _instant(fields: Fields, key: str, zone: ZoneInfo) -> datetime:
    fields.require(key)
    value = fields.text(key) if fields.has(key) else None
    try:
        found = datetime.fromisoformat(value or "")
    except ValueError:
        if value is not None:
            fields.fault(key, f"{value!r} is no local time such as 2026-01-13T18:00")
        return datetime(2000, 1, 1, tzinfo=zone)
    return found.replace(tzinfo=zone) if found.tzinfo is None else found


def _circuit(fields: Fields) -> Circuit:
    fields.require("id", "limit_a")
    limit_a = _number(fields, "limit_a", 1.0, lowest=1)
    meter = fields.mapping("meter", METER_KEYS)
    return Circuit(
        id=fields.text("id") or "" if fields.has("id") else "",
        fed_from=fields.text("fed_from") if fields.has("fed_from") else None,
        limit_a=limit_a,
        device_a=_number(fields, "device_a", limit_a, lowest=1),
        worst_base_a=_number(fields, "worst_base_a", 0.0),
        meter=None if meter is None else _meter(meter),
    )


def _meter(fields: Fields) -> Meter:
    usual = Meter()
    counts = fields.choice("counts", Counts) if fields.has("counts") else None
    change = _number(fields, "on_change_a", 0.5)
    return Meter(
        counts=counts or usual.counts,
        period_s=_number(fields, "period_s", usual.period_s, lowest=1, highest=900),
        on_change_a=change or None,
        delay_s=_number(fields, "delay_s", usual.delay_s, highest=60),
    )


def _known(fields: Fields, key: str, names: set[str]) -> str:
    fields.require(key)
    value = fields.text(key) if fields.has(key) else None
    if value is not None and value not in names:
        fields.fault(key, f"there is no circuit {value!r}; known are {', '.join(sorted(names))}")
    return value or ""


def _lines(fields: Fields, key: str) -> tuple[int, ...] | None:
    if not fields.has(key):
        return None
    texts = fields.texts(key) or ()
    if not texts or any(text not in LINES for text in texts) or len(set(texts)) < len(texts):
        fields.fault(key, "must name some of L1, L2, L3, each once")
        return None
    return tuple(LINES.index(text) for text in texts)


def _stations(fields: Fields, names: set[str]) -> list[Station]:
    """One, or `count` of them, whose lines are turned from one to the next unless `rotation` is given."""
    fields.require("id")
    name = fields.text("id") or "" if fields.has("id") else ""
    count = _whole(fields, "count", 0, lowest=1, highest=MOST_STATIONS)
    circuit = _known(fields, "circuit", names)
    lines = _lines(fields, "rotation")
    if lines is not None and len(lines) != 3:
        fields.fault("rotation", "must name all three lines")
        lines = None
    use = fields.choice("use", Use) if fields.has("use") else None
    found = []
    for n in range(count or 1):
        turned = ROTATIONS[n % 3] if lines is None else (lines[0], lines[1], lines[2])
        found.append(
            Station(
                id=f"{name}-{n + 1:02d}" if count else name,
                circuit=circuit,
                rotation=turned,
                max_current_a=_number(fields, "max_current_a", 32.0, lowest=6, highest=80),
                step_a=_number(fields, "step_a", 0.1, lowest=0.1, highest=1),
                fallback_a=_number(fields, "fallback_a", 0.0, highest=80),
                keeps_profiles=fields.flag("keeps_profiles", True),
                use=use or Use.ALL,
            )
        )
    return found


def _load(fields: Fields, names: set[str]) -> BaseLoad:
    kind = fields.choice("kind", LoadKind) if fields.has("kind") else LoadKind.CONSTANT
    hourly: tuple[float, ...] = ()
    if kind is LoadKind.PROFILE:
        fields.require("hourly_a")
        texts = (fields.texts("hourly_a") if fields.has("hourly_a") else None) or ()
        try:
            hourly = tuple(float(text) for text in texts)
        except ValueError:
            hourly = ()
        if len(hourly) != 24 or not all(0 <= value < 1e4 for value in hourly):
            fields.fault("hourly_a", "must be 24 numbers of A, one for each hour of the day")
    return BaseLoad(
        circuit=_known(fields, "circuit", names),
        kind=kind or LoadKind.CONSTANT,
        current_a=_number(fields, "current_a", 0.0),
        hourly_a=hourly,
        houses=_whole(fields, "houses", 1, lowest=1, highest=1000),
        steps=tuple(_step(step) for step in fields.mappings("steps", STEP_KEYS)),
    )


def _step(fields: Fields) -> Step:
    fields.require("at", "minutes", "current_a")
    at = fields.clock_time("at") if fields.has("at") else None
    return Step(
        at_s=0.0 if at is None else at.hour * 3600.0 + at.minute * 60.0,
        lasts_s=60 * _number(fields, "minutes", 1.0, highest=1440),
        current_a=_number(fields, "current_a", 0.0, highest=1e4),
        lines=_lines(fields, "lines") or (0, 1, 2),
    )


def _arrivals(fields: Fields | None, zone: ZoneInfo) -> Arrivals:
    if fields is None:
        return Arrivals()
    return Arrivals(
        visits=tuple(_visit(visit, zone) for visit in fields.mappings("visits", VISIT_KEYS)),
        cars=_whole(fields, "cars", 0, highest=MOST_STATIONS),
        vans=_whole(fields, "vans", 0, highest=MOST_STATIONS),
        energy_factor=_number(fields, "energy_factor", 1.0, highest=100),
        ignoring=_number(fields, "ignoring", 0.0, highest=1),
        sleepy=_number(fields, "sleepy", 0.0, highest=1),
        van_priority=_whole(fields, "van_priority", 0, highest=100),
    )


def _visit(fields: Fields, zone: ZoneInfo) -> Visit:
    fields.require("model", "at", "hours", "energy_kwh")
    names = [model.name for model in MODELS]
    name = fields.text("model") if fields.has("model") else None
    if name is not None and name not in names:
        fields.fault("model", f"{name!r} is none of {', '.join(names)}")
    arrives = _instant(fields, "at", zone)
    use = fields.choice("use", Use) if fields.has("use") else None
    return Visit(
        model=names.index(name) if name in names else 0,
        arrives_at=arrives,
        departs_at=arrives + timedelta(hours=_number(fields, "hours", 1.0, lowest=0.05, highest=1000)),
        energy_wh=1000 * _number(fields, "energy_kwh", 1.0, highest=1000),
        use=use or Use.CARS,
        bay=_whole(fields, "bay", 0, highest=MOST_STATIONS) if fields.has("bay") else None,
    )


def _trouble(fields: Fields, names: set[str], zone: ZoneInfo) -> Disturbance:
    fields.require("kind")
    kind = (fields.choice("kind", Trouble) if fields.has("kind") else None) or Trouble.SERVER_KILLED
    circuit = _known(fields, "circuit", names) if kind is Trouble.METER_SILENT else None
    return Disturbance(
        kind=kind,
        at=_instant(fields, "at", zone),
        lasts_s=60 * _number(fields, "minutes", 1.0, highest=100_000),
        circuit=circuit,
        share=_number(fields, "share", 1.0, highest=1),
        while_raising=fields.flag("while_raising", False),
    )


def _messages(fields: Fields | None) -> Messages:
    usual = Messages()
    least = _number(fields, "least_delay_s", usual.delay_s[0], highest=60)
    most = _number(fields, "most_delay_s", max(least, usual.delay_s[1]), highest=60)
    if fields is not None and most < least:
        fields.fault("most_delay_s", f"must be at least least_delay_s, {least:g}")
    return Messages(
        delay_s=(least, most),
        lost=_number(fields, "lost_percent", 0.0, highest=100) / 100,
        timeout_s=_number(fields, "timeout_s", usual.timeout_s, lowest=1, highest=600),
        sample_s=_number(fields, "sample_s", usual.sample_s, lowest=1, highest=3600),
    )


def _timing(fields: Fields | None) -> Timing:
    usual = Timing()
    return Timing(
        offer_validity_s=_number(fields, "offer_validity_s", usual.offer_validity_s, lowest=30),
        rotation_s=_number(fields, "rotation_s", usual.rotation_s, lowest=60),
        raise_delay_s=_number(fields, "raise_delay_s", usual.raise_delay_s, lowest=1),
        meter_stale_s=_number(fields, "meter_stale_s", usual.meter_stale_s, lowest=5),
        unseen_step_a=_number(fields, "unseen_step_a", usual.unseen_step_a),
    )
