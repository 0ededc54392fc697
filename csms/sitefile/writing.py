"""A description as the text of a site file. What is as it would be anyway is left out."""

import re
from collections.abc import Iterator

from csms.sitefile.description import Description, Planned
from csms.sites.model import LINES, Circuit, LineAmps, Site
from csms.stations.record import Station

_PLAIN = re.compile(r"[A-Za-z][A-Za-z0-9 _./+-]*[A-Za-z0-9]")
_WORDS = frozenset({"y", "n", "yes", "no", "on", "off", "true", "false", "null"})
_USUAL = Station.__dataclass_fields__
_USUALLY = Site.__dataclass_fields__


def write(description: Description) -> str:
    """The text; `parsing.parse` gives the description back from it."""
    return "\n".join(_lines(description)) + "\n"


def _lines(description: Description) -> Iterator[str]:
    site = description.site
    yield "site:"
    for key in ("id", "name", "time_zone", "currency"):
        yield f"  {key}: {_text(getattr(site, key))}"
    yield f"  system: {site.system}"
    for key in ("strategy", "fairness"):
        if getattr(site, key) is not _USUALLY[key].default:
            yield f"  {key}: {getattr(site, key)}"
    yield ""
    yield "circuits:"
    for circuit in description.circuits:
        yield from _item(_circuit(circuit))
    yield ""
    if not description.stations:
        yield "stations: []"
        return
    yield "stations:"
    for planned in description.stations:
        yield from _item(_station(planned))


def _item(pairs: Iterator[tuple[str, str]]) -> Iterator[str]:
    for i, (key, value) in enumerate(pairs):
        yield f"  {'-' if i == 0 else ' '} {key}: {value}"


def _circuit(circuit: Circuit) -> Iterator[tuple[str, str]]:
    yield "id", _text(circuit.id)
    yield "name", _text(circuit.name)
    if circuit.fed_from is not None:
        yield "fed_from", _text(circuit.fed_from)
    yield "limit_a", _amps(circuit.limit_a)
    if circuit.device_a is not None:
        yield "device_a", _number(circuit.device_a)
    if circuit.cap_w is not None:
        yield "cap_w", _number(circuit.cap_w)
    if circuit.cap_windows:
        windows = (
            f'{{start: "{w.start:%H:%M}", end: "{w.end:%H:%M}", cap_w: {w.cap_w}}}'
            for w in circuit.cap_windows
        )
        yield "cap_windows", f"[{', '.join(windows)}]"
    if circuit.unbalance_a is not None:
        yield "unbalance_a", _number(circuit.unbalance_a)
    if any(circuit.worst_base_a):
        yield "worst_base_a", _amps(circuit.worst_base_a)
    if circuit.meter is not None:
        meter = {"counts": circuit.meter.counts.value, "period_s": circuit.meter.period_s}
        yield "meter", _flow(meter | ({} if circuit.meter.input is None else {"input": circuit.meter.input}))


def _station(planned: Planned) -> Iterator[tuple[str, str]]:
    station = planned.station
    yield "identity", _text(station.id)
    if station.expected_serial:
        yield "serial", _text(station.expected_serial)
    if station.name:
        yield "name", _text(station.name)
    yield "circuit", _text(station.circuit_id or "")
    if planned.evses != 1:
        yield "evses", str(planned.evses)
    yield "wiring", f"[{', '.join(station.wiring)}]"
    for key in ("max_current_a", "step_a", "fallback_a"):
        yield key, _number(getattr(station, key))
    for key in ("can_choose_line", "keeps_profiles"):
        if getattr(station, key) is not _USUAL[key].default:
            yield key, str(getattr(station, key)).lower()


def _amps(values: LineAmps) -> str:
    if len(set(values)) == 1:
        return _number(values[0])
    pairs = (f"{line}: {_number(value)}" for line, value in zip(LINES, values, strict=True) if value)
    return f"{{{', '.join(pairs)}}}"


def _number(value: float) -> str:
    return str(int(value)) if value == int(value) else repr(value)


def _text(text: str) -> str:
    """As it is where YAML takes it as it is, else in double quotes."""
    if _PLAIN.fullmatch(text) and text.lower() not in _WORDS:
        return text
    return _quoted(text)


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    shown = "".join(c if c.isprintable() else f"\\U{ord(c):08x}" for c in escaped)
    return f'"{shown}"'


def _flow(value: object) -> str:
    if isinstance(value, dict):
        return f"{{{', '.join(f'{_text(str(k))}: {_flow(v)}' for k, v in value.items())}}}"
    if isinstance(value, list | tuple):
        return f"[{', '.join(_flow(each) for each in value)}]"
    if value is None:
        return "null"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, int):
        return str(value)
    if isinstance(value, float):
        return _number(value)
    return _text(str(value))
