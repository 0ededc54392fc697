"""A picture of a run as SVG: currents per line against the limit, energy by car, waiting.

Lines have the colours of IEC 60445 (L1 brown, L2 black, L3 grey) and a dash of their own, so that nothing
rests on colour alone.
"""

import math
from collections.abc import Callable
from html import escape
from typing import Final

from tools.simulation.grid import BIN_S, LineFlow
from tools.simulation.places import Stay
from tools.simulation.world import Outcomes

WIDTH: Final = 1000
LEFT: Final = 64
RIGHT: Final = 16
PLOT: Final = WIDTH - LEFT - RIGHT
CHART: Final = 170
ROW: Final = 12
MOST_POINTS: Final = 2_016
"""A week of five minutes."""
MOST_ROWS: Final = 120
LINE_STYLE: Final = (("#8b5a2b", ""), ("#1b1b1b", "7 3"), ("#8c8c8c", "2 2"))
PAPER, INK, RULE, TROUBLE = "#fbf8f1", "#2b2a27", "#d9d2c3", "#b3261e"
GIVEN, MISSING, WAITED = "#3f6f5b", "#d8cbb0", "#d08a1d"


def picture(outcomes: Outcomes) -> str:
    """The whole picture as one SVG document."""
    description = outcomes.description
    parts: list[str] = []
    top = 44.0
    for circuit in description.circuits[:12]:
        flows = [outcomes.grid.lines[circuit.id, line] for line in range(3)]
        parts.append(_currents(outcomes, circuit.id, circuit.limit_a, flows, top))
        top += CHART + 58
    stays = sorted(outcomes.stays, key=lambda s: (s.began_s, s.transaction))[:MOST_ROWS]
    parts.append(_cars(outcomes, stays, top))
    height = top + 70 + ROW * len(stays)
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" '
        f'width="{WIDTH}" height="{height:.0f}" font-family="sans-serif" font-size="11" fill="{INK}">'
        f"<title>{escape(description.name)}</title>"
        f'<rect width="{WIDTH}" height="{height:.0f}" fill="{PAPER}"/>'
    )
    title = f'<text x="{LEFT}" y="26" font-size="17">{escape(description.name)}</text>'
    return head + title + "".join(parts) + "</svg>\n"


def _x(outcomes: Outcomes, at_s: float) -> float:
    description = outcomes.description
    share = (at_s - description.starts_s) / (description.ends_s - description.starts_s)
    return LEFT + PLOT * min(1.0, max(0.0, share))


def _currents(outcomes: Outcomes, circuit: str, limit_a: float, flows: list[LineFlow], top: float) -> str:
    highest = max([limit_a, *(value for flow in flows for value in flow.bins.values())]) * 1.08
    floor = top + 18 + CHART

    def y(current_a: float) -> float:
        return floor - CHART * current_a / highest

    parts = [f'<text x="{LEFT}" y="{top + 10:.0f}" font-size="13">{escape(circuit)}: A per line</text>']
    x_key, minutes = LEFT + 330, _bins_each(outcomes) * BIN_S / 60
    for line, (colour, dash) in enumerate(LINE_STYLE):
        parts.append(
            f'<path d="M{x_key} {top + 6:.0f}h26" stroke="{colour}" stroke-dasharray="{dash}"/>'
            f'<text x="{x_key + 31}" y="{top + 10:.0f}">L{line + 1}</text>'
        )
        x_key += 64
    parts.append(
        f'<text x="{x_key}" y="{top + 10:.0f}">highest of {minutes:g} minutes; shaded: the building</text>'
    )
    parts.append(_days(outcomes, top + 18, floor))
    parts += [
        f'<path d="M{LEFT} {y(limit_a * mark):.1f}h{PLOT}" stroke="{RULE}"/>' for mark in (0.25, 0.5, 0.75)
    ]
    parts += [
        f'<text x="{LEFT - 6}" y="{y(value) + 4:.1f}" text-anchor="end">{value:g}</text>'
        for value in (0.0, limit_a / 2, limit_a)
    ]
    base = max(flows, key=lambda flow: max(flow.base_bins.values(), default=0.0))
    if any(base.base_bins.values()):
        points = _points(outcomes, base.base_bins, y)
        first, last = points[0].split(",")[0], points[-1].split(",")[0]
        area = f"{first},{floor:.1f} {' '.join(points)} {last},{floor:.1f}"
        parts.append(f'<polygon points="{area}" fill="{RULE}" opacity="0.7"/>')
    for flow, (colour, dash) in zip(flows, LINE_STYLE, strict=True):
        way = " ".join(_points(outcomes, flow.bins, y))
        parts.append(f'<polyline points="{way}" fill="none" stroke="{colour}" stroke-dasharray="{dash}"/>')
    parts.append(
        f'<path d="M{LEFT} {y(limit_a):.1f}h{PLOT}" stroke="{TROUBLE}" stroke-width="1.5"/>'
        f'<text x="{LEFT + 4}" y="{y(limit_a) - 4:.1f}" fill="{TROUBLE}">limit {limit_a:g} A</text>'
    )
    for disturbance in outcomes.description.disturbances:
        x = _x(outcomes, disturbance.at.timestamp())
        label = escape(disturbance.kind.replace("_", " "))
        parts.append(
            f'<path d="M{x:.1f} {top + 18:.0f}V{floor:.0f}" stroke="{TROUBLE}" stroke-dasharray="1 4"/>'
            f'<text transform="translate({x - 3:.1f} {floor - 4:.0f}) rotate(-90)" '
            f'fill="{TROUBLE}">{label}</text>'
        )
    return "".join(parts)


def _points(outcomes: Outcomes, bins: dict[int, float], y: Callable[[float], float]) -> list[str]:
    start_s, each = outcomes.description.starts_s, _bins_each(outcomes)
    highest: dict[int, float] = {}
    for n, value in bins.items():
        highest[n // each] = max(value, highest.get(n // each, 0.0))
    return [
        f"{_x(outcomes, start_s + (n + 0.5) * each * BIN_S):.1f},{y(value):.1f}"
        for n, value in sorted(highest.items())
    ]


def _bins_each(outcomes: Outcomes) -> int:
    """How many bins are one point of a line, so that a year has no more of them than can be seen."""
    return math.ceil(outcomes.description.days * 86_400 / BIN_S / MOST_POINTS)


def _days(outcomes: Outcomes, top: float, floor: float) -> str:
    description = outcomes.description
    every = max(1, description.days // 14)
    hours = 6 if description.days <= 2 else 24 * every
    parts = []
    for hour in range(0, 24 * description.days + 1, hours):
        x = LEFT + PLOT * hour / (24 * description.days)
        label = f"{hour % 24:02d}:00" if description.days <= 2 else f"day {hour // 24 + 1}"
        parts.append(f'<path d="M{x:.1f} {top:.0f}V{floor:.0f}" stroke="{RULE}"/>')
        if hour < 24 * description.days:
            parts.append(f'<text x="{x + 3:.1f}" y="{floor + 13:.0f}">{label}</text>')
    return "".join(parts)


def _cars(outcomes: Outcomes, stays: list[Stay], top: float) -> str:
    """A row for each car: its stay, how much of it it waited, and what it got of its need."""
    more = len(outcomes.stays) - len(stays)
    note = f" (the first {len(stays)}; {more} more)" if more else ""
    parts = [
        f'<text x="{LEFT}" y="{top + 10:.0f}" font-size="13">Cars: stay, energy given of what was needed, '
        f"waiting{escape(note)}</text>"
    ]
    x_key = LEFT
    for colour, label in (
        (GIVEN, "given, of the need"),
        (MISSING, "not given"),
        (WAITED, "waits without pilot"),
    ):
        parts.append(
            f'<rect x="{x_key}" y="{top + 18:.0f}" width="14" height="9" fill="{colour}"/>'
            f'<text x="{x_key + 19}" y="{top + 27:.0f}">{label}</text>'
        )
        x_key += 150
    floor = top + 36 + ROW * len(stays)
    parts.append(_days(outcomes, top + 34, floor))
    for n, stay in enumerate(stays):
        y = top + 36 + ROW * n
        begin, end = _x(outcomes, stay.began_s), _x(outcomes, stay.ends_s)
        share = min(1.0, stay.energy_wh / stay.need_wh) if stay.need_wh else 1.0
        about = (
            f"{stay.arrival.model.name} at {stay.place.station.id}: {stay.energy_wh / 1000:.1f} of "
            f"{stay.need_wh / 1000:.1f} kWh"
        )
        parts.append(
            f"<g><title>{escape(about)}</title>"
            f'<rect x="{begin:.1f}" y="{y:.1f}" width="{max(1.0, end - begin):.1f}" height="8" '
            f'fill="{MISSING}"/>'
            f'<rect x="{begin:.1f}" y="{y:.1f}" width="{max(0.5, (end - begin) * share):.1f}" height="8" '
            f'fill="{GIVEN}"/>'
        )
        for since, until in stay.waited:
            x, x_end = _x(outcomes, since), _x(outcomes, until)
            if x_end - x > 0.3:
                parts.append(
                    f'<rect x="{x:.1f}" y="{y + 5:.1f}" width="{x_end - x:.1f}" height="4" fill="{WAITED}"/>'
                )
        parts.append("</g>")
        if n % 2 == 0:
            parts.append(
                f'<text x="{LEFT - 4}" y="{y + 8:.1f}" text-anchor="end" font-size="8">'
                f"{escape(stay.place.station.id)}</text>"
            )
    return "".join(parts)
