"""Readings from a message's meter values, both versions: one wide `Reading` per instant and context.

Samples are keyed by measurand, phase, location and context. The overall value is the one
without a phase, measured at the outlet if there is a choice, else the sum of the lines.
What is not chosen or has no place of its own stays among `others`, in the sender's words (with
`@location` behind the measurand where that is not the outlet, and `e3` behind the unit for a
multiplier of 3); an unreadable value is left out and noted, and the rest is kept.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from csms.ocpp.adapter import Unreadable
from csms.ocpp.fields import Notes
from csms.ocpp.quantities import (
    CELLS,
    CONTEXTS,
    FARTHEST,
    PHASES,
    RANKS,
    REGISTER,
    SOC_RANKS,
    STANDARD_OTHERS,
    Place,
    Units,
)
from csms.ocpp.sample_table import SampleTable, magnitude, unit_of
from csms.ocpp.signed_values import read_signed2, read_signed16
from csms.ocpp.texts import clean
from csms.ocpp.times import read_time
from csms.stations.model import Reading, ReadingContext

_SOC = int(Place.SOC)

_Tables = dict[tuple[datetime, ReadingContext], SampleTable]


def readings(value: object, now: datetime, notes: Notes, field: str = "meterValue") -> tuple[Reading, ...]:
    """All readings of a list of meter values, in the order they came.

    What has no readable time of its own gets `now`, the time of arrival, and a note.
    """
    if value is None:
        return ()
    if not isinstance(value, list):
        notes.add(field, "is no list")
        value = [value]
    tables: _Tables = {}
    for place, entry in enumerate(value):
        path = f"{field}[{place}]"
        if not isinstance(entry, dict):
            notes.add(path, "is no object")
            continue
        samples = entry.get("sampledValue")
        if not isinstance(samples, list):
            notes.add(f"{path}.sampledValue", "is no list")
            samples = [samples] if isinstance(samples, dict) else []
        if not samples:
            continue
        try:
            at = read_time(entry.get("timestamp"), f"{path}.timestamp")
        except Unreadable as error:
            notes.add(error.field, f"{error.problem}; the time of arrival is taken")
            at = now
        _fill(samples, at, tables, notes, path)
    return tuple([table.reading() for table in tables.values() if table.filled])


def _fill(samples: list[Any], at: datetime, tables: _Tables, notes: Notes, path: str) -> None:
    """Put the samples of one instant into the tables of their contexts."""
    context: ReadingContext | None = None
    table = SampleTable(at, ReadingContext.PERIODIC)
    for place, sample in enumerate(samples):
        try:
            get = sample.get
            told = CONTEXTS.get(get("context"))
            if told is None:
                told = ReadingContext.OTHER
                _note(notes, path, place, "context", f"{get('context')!r:.60} is not of the standard")
            if told is not context:
                context = told
                table = tables.setdefault((at, told), SampleTable(at, told))
            cells = CELLS.get(get("measurand") or REGISTER)
            cell = None if cells is None else cells.get(get("phase"))
            if "signedMeterValue" in sample or get("format") == "SignedData":
                _sign(sample, table)
                if "signedMeterValue" not in sample:
                    continue
            if cell is None:
                _set_aside(sample, table, notes, path, place)
            else:
                _put(sample, table, cell, notes, path, place)
        except (AttributeError, TypeError):  # not an object, or an object where a word belongs
            _note(notes, path, place, "", "is no sampled value")


def _put(
    sample: Mapping[str, Any],
    table: SampleTable,
    cell: tuple[int, Units],
    notes: Notes,
    path: str,
    place: int,
) -> None:
    """Read one value and keep it in its cell, or aside when a better one is there."""
    slot, units = cell
    get = sample.get
    unit, power = (get("unit"), 0) if "unitOfMeasure" not in sample else unit_of(sample)
    if unit not in units:
        unit = clean(unit).lower()
        if unit not in units:
            _note(notes, path, place, "unit", f"{unit!r:.30} does not fit {get('measurand')!r:.60}")
            table.set_aside(sample)
            return
    value = magnitude(get("value"), slot, units[unit], power)
    if value is None:
        _note(notes, path, place, "value", f"{get('value')!r:.40} is no possible number")
        return
    location = get("location")
    rank = (SOC_RANKS if slot == _SOC else RANKS).get(location, FARTHEST)
    table.keep(slot, value, rank, sample)


def _sign(sample: Mapping[str, Any], table: SampleTable) -> None:
    """Keep a signed record, each once: some stations hang the same one onto every value."""
    if "signedMeterValue" in sample:
        signed = read_signed2(sample["signedMeterValue"])
    else:
        signed = read_signed16(sample.get("value"))
    if signed not in table.signed:
        table.signed.append(signed)


def _set_aside(sample: Mapping[str, Any], table: SampleTable, notes: Notes, path: str, place: int) -> None:
    """Keep what has no place of its own; note it when the standard does not know it either."""
    measurand = sample.get("measurand") or REGISTER
    if measurand not in STANDARD_OTHERS and measurand not in CELLS:
        _note(notes, path, place, "measurand", f"{measurand!r:.60} is not of the standard")
    if sample.get("phase") not in PHASES:
        _note(notes, path, place, "phase", f"{sample.get('phase')!r:.60} is not of the standard")
    table.set_aside(sample)


def _note(notes: Notes, path: str, place: int, name: str, problem: str) -> None:
    """A note about one sample."""
    notes.add(f"{path}.sampledValue[{place}]{'.' if name else ''}{name}", problem)
