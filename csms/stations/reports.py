"""Reports that come in parts: what has come so far, and what is missing at the end."""

from collections import OrderedDict
from dataclasses import dataclass, field
from itertools import islice
from typing import Generic, TypeVar

T = TypeVar("T")

MOST_OPEN = 256
"""Reports under way that are remembered, over all stations; the oldest is forgotten first."""
MOST_ITEMS = 20_000
"""Items of one report that are counted; a station that sends more sends nonsense."""
MOST_MISSING = 100
"""So many missing parts are named."""


@dataclass(slots=True)
class _Open(Generic[T]):
    parts: set[int] = field(default_factory=set)
    items: list[T] = field(default_factory=list)


@dataclass(frozen=True, slots=True)
class Report(Generic[T]):
    """A report whose last part has come. `missing`: numbers of parts that have not."""

    items: tuple[T, ...]
    missing: tuple[int, ...]


class OpenReports(Generic[T]):
    """Puts the parts of reports together, by station and request. Bounded, and forgetful on restart."""

    def __init__(self) -> None:
        self._open: OrderedDict[tuple[str, int], _Open[T]] = OrderedDict()

    def add(
        self,
        station_id: str,
        request_id: int,
        items: tuple[T, ...],
        *,
        last: bool,
        sequence: int | None = None,
    ) -> Report[T] | None:
        """One part came; the report when it was the last. `sequence` None: its parts have no numbers.

        A part that comes twice counts once.
        """
        key = (station_id, request_id)
        report = self._open.setdefault(key, _Open())
        self._open.move_to_end(key)
        if sequence is None or sequence not in report.parts:
            report.items.extend(items[: MOST_ITEMS - len(report.items)])
        if sequence is not None and len(report.parts) < MOST_ITEMS:
            report.parts.add(sequence)
        if not last:
            while len(self._open) > MOST_OPEN:
                self._open.popitem(last=False)
            return None
        del self._open[key]
        gaps = (part for part in range(sequence or 0) if part not in report.parts)
        # Looked for one by one: a station may claim to have sent two thousand million parts.
        missing = tuple(islice(gaps, MOST_MISSING))
        # Some stations count from 1.
        return Report(tuple(report.items), () if missing == (0,) else missing)
