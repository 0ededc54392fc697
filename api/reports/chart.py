"""Charts as SVG, ours from the first line to the last.

Made to be printed in grey and read without seeing colours: bars differ by hatching, curves have a panel
each, both have their names beside them, and the whole is told in words (`title`, `desc`) to those who listen.
Lines of a supply are brown, black and grey (IEC 60445), never by colour alone. Attributes only, no
style sheet, so that a page's content security policy has nothing to forbid.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape
from typing import Final

INK, FAINT, RULE, PAPER = "#1f2429", "#5b6168", "#d5d0c3", "#ffffff"
FONT: Final = "DejaVu Sans, Verdana, sans-serif"
WIDTH: Final = 960
MOST_BARS: Final = 60
FILLS: Final = ("#3d4d5c", "url(#hatch)", "url(#dots)", PAPER)
STROKES: Final = {"L1": "#7a4a21", "L2": "#16181a", "L3": "#767b80"}
"""Colours of a supply's lines (IEC 60445); what is none of them is in ink. Each has a panel of its own."""
PANEL: Final = 128.0


@dataclass(frozen=True, slots=True)
class Bars:
    """Horizontal bars, one for each of `labels`, made of the `series` one behind the other.

    `series` are (name, a value for each label). Values below nought are drawn to the left.
    """

    title: str
    unit: str
    labels: tuple[str, ...]
    series: tuple[tuple[str, tuple[float, ...]], ...]


@dataclass(frozen=True, slots=True)
class Curves:
    """Values over time, a level for each interval that begins at `at` (local time, to be shown as it
    is); None: not known. `limit` is a level that must not be passed."""

    title: str
    unit: str
    at: tuple[datetime, ...]
    series: tuple[tuple[str, tuple[float | None, ...]], ...]
    limit: float | None = None


Chart = Bars | Curves

Place = Callable[[float], float]
"""A value to where it is drawn."""


def draw(chart: Chart) -> str:
    """The SVG document."""
    return _bars(chart) if isinstance(chart, Bars) else _curves(chart)


def words(chart: Chart) -> str:
    """What the picture shows, in a sentence or two."""
    if isinstance(chart, Bars):
        sums = [sum(values) for values in zip(*(v for _, v in chart.series), strict=True)]
        if not sums:
            return f"{chart.title}: nothing to show."
        place = max(range(len(sums)), key=lambda i: sums[i])
        return (
            f"{chart.title}: {len(sums)} bars in {chart.unit}, together {number(sum(sums))}. "
            f"The longest is {chart.labels[place]} with {number(sums[place])}."
        )
    told = []
    for name, values in chart.series:
        known = [(value, at) for value, at in zip(values, chart.at, strict=True) if value is not None]
        if known:
            value, at = max(known, key=lambda each: each[0])
            told.append(f"{name} is highest with {number(value)} {chart.unit} at {at:%Y-%m-%d %H:%M}")
    return f"{chart.title}: {'; '.join(told) if told else 'nothing to show'}."


def number(value: float) -> str:
    """For people: three digits that mean something, thousands apart."""
    if value == 0 or abs(value) >= 100:
        return f"{value:,.0f}".replace(",", "\u202f")
    return f"{value:.3g}"


def ticks(low: float, high: float, most: int = 6) -> list[float]:
    """Round values from `low` to at least `high`: 1, 2 or 5 times a power of ten apart."""
    span = high - low
    if span <= 0:
        return [low, low + 1]
    step = 10 ** math.floor(math.log10(span / most))
    step = next(step * factor for factor in (1, 2, 5, 10) if span / (step * factor) <= most)
    first, last = math.floor(low / step), math.ceil(high / step)
    return [round(i * step, 10) for i in range(first, last + 1)]


def _bars(chart: Bars) -> str:
    labels, series = _few(chart)
    count = len(labels)
    sums = [sum(values[i] for _, values in series) for i in range(count)]
    # Room for the longest label and for the value behind the longest bar, in px of 6.6 a character.
    left = min(320.0, 28 + 7.4 * max([len(_short(label)) for label in labels], default=4))
    right, top, row = 92.0, 78.0 if len(series) > 1 else 54.0, 24.0
    scale = ticks(min(0.0, *sums, 0.0), max(0.0, *sums, 0.0)) if sums else [0.0, 1.0]
    height = top + max(1, count) * row + 30
    room = WIDTH - left - right

    def x(value: float) -> float:
        return left + (value - scale[0]) / (scale[-1] - scale[0]) * room

    body = [_legend([name for name, _ in series])] if len(series) > 1 else []
    bottom = top + max(1, count) * row + 4
    for tick in scale:
        body.append(_line(x(tick), top - 6, x(tick), bottom, INK if tick == 0 else RULE))
        body.append(_text(x(tick), bottom + 16, number(tick), anchor="middle", colour=FAINT))
    for i, label in enumerate(labels):
        y = top + i * row
        body.append(_text(left - 8, y + 15, _short(label), anchor="end"))
        at = 0.0
        for place, (_, values) in enumerate(series):
            value = values[i]
            low, high = sorted((x(at), x(at + value)))
            if value:
                body.append(_rect(low, y + 3, high - low, 16, FILLS[place % len(FILLS)]))
            at += value
        # Behind the bar; what lies left of nought has its value right of nought.
        body.append(_text(x(max(0.0, sums[i])) + 6, y + 15, number(sums[i]), colour=INK))
    if not count:
        body.append(_text(left, top + 15, "Nothing in this period."))
    return _document(chart, height, body)


def _few(chart: Bars) -> tuple[list[str], list[tuple[str, list[float]]]]:
    """At most MOST_BARS: the smallest are put together as the last one."""
    count = len(chart.labels)
    if count <= MOST_BARS:
        return list(chart.labels), [(name, list(values)) for name, values in chart.series]
    sums = [sum(values[i] for _, values in chart.series) for i in range(count)]
    largest = sorted(range(count), key=lambda i: -abs(sums[i]))[: MOST_BARS - 1]
    kept = sorted(largest)
    rest = [i for i in range(count) if i not in set(largest)]
    labels = [*(chart.labels[i] for i in kept), f"{len(rest)} others"]
    series = [
        (name, [*(values[i] for i in kept), sum(values[i] for i in rest)]) for name, values in chart.series
    ]
    return labels, series


def _curves(chart: Curves) -> str:
    left, right, top, gap = 64.0, 16.0, 54.0, 26.0
    values = [value for _, each in chart.series for value in each if value is not None]
    several = len(chart.series) > 1
    tall = PANEL if several else 2 * PANEL
    highest = max([0.0, *values, *([chart.limit] if chart.limit else [])])
    scale = ticks(min([0.0, *values]), highest, 3 if several else 6)
    room, count = WIDTH - left - right, max(1, len(chart.at))
    bottom = top + len(chart.series) * (tall + gap) - gap

    def x(place: float) -> float:
        return left + place / count * room

    body: list[str] = []
    for place, (name, each) in enumerate(chart.series):
        base = top + place * (tall + gap) + tall

        def y(value: float, base: float = base) -> float:
            return base - (value - scale[0]) / (scale[-1] - scale[0]) * tall

        for tick in scale:
            body.append(_line(left, y(tick), WIDTH - right, y(tick), INK if tick == 0 else RULE))
            body.append(_text(left - 8, y(tick) + 4, number(tick), anchor="end", colour=FAINT))
        if chart.limit is not None:
            body.append(_line(left, y(chart.limit), WIDTH - right, y(chart.limit), INK, dashes="12 3 2 3"))
            body.append(
                _text(WIDTH - right, y(chart.limit) - 5, f"limit {number(chart.limit)}", anchor="end")
            )
        for path in _paths(each, x, y):
            colour = STROKES.get(name, INK)
            body.append(f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="1.6"/>')
        if several:
            body.append(_text(left + 6, base - tall + 14, name, weight="bold"))
        if all(value is None for value in each):
            body.append(_text(left + 60, base - tall / 2, "Nothing was measured in this period."))
    body += _dates(chart.at, x, bottom)
    return _document(chart, bottom + 40, body)


def _paths(values: Sequence[float | None], x: Place, y: Place) -> Iterable[str]:
    """A run of levels each; what is not known leaves a gap."""
    run: list[str] = []
    for i, value in enumerate(values):
        if value is None:
            if run:
                yield " ".join(run)
            run = []
            continue
        run.append(f"{'L' if run else 'M'}{x(i):.1f} {y(value):.1f}H{x(i + 1):.1f}")
    if run:
        yield " ".join(run)


def _dates(at: Sequence[datetime], x: Place, bottom: float) -> list[str]:
    """A mark at days, or at hours where the whole is short; at most a dozen with words."""
    days = len({each.date() for each in at})
    marked = [
        i
        for i, each in enumerate(at)
        if (each.hour == each.minute == 0 if days > 2 else each.minute == 0 and each.hour % 3 == 0)
    ]
    every = max(1, math.ceil(len(marked) / 12))
    body = []
    for place, i in enumerate(marked):
        if place % every == 0:
            text = f"{at[i]:%d %b}" if days > 2 else f"{at[i]:%H:%M}"
            body.append(_line(x(i), bottom, x(i), bottom + 5, FAINT))
            body.append(_text(x(i), bottom + 19, text, anchor="middle", colour=FAINT))
    return body


def _legend(names: Sequence[str]) -> str:
    parts, at = [], 24.0
    for place, name in enumerate(names):
        parts.append(_rect(at, 47, 22, 12, FILLS[place % len(FILLS)]))
        parts.append(_text(at + 29, 57, name))
        at += 56 + 7.2 * len(name)
    return "".join(parts)


def _document(chart: Chart, height: float, body: Iterable[str]) -> str:
    title = escape(f"{chart.title}, {chart.unit}" if chart.unit else chart.title)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height:.0f}" role="img" '
        f'aria-labelledby="chart-title chart-words" font-family="{FONT}" font-size="12" fill="{INK}">'
        f'<title id="chart-title">{title}</title><desc id="chart-words">{escape(words(chart))}</desc>'
        '<defs><pattern id="hatch" width="6" height="6" patternUnits="userSpaceOnUse">'
        f'<rect width="6" height="6" fill="{PAPER}"/><path d="M-1 1l2-2M0 6l6-6M5 7l2-2" stroke="{INK}" '
        'stroke-width="1.1"/></pattern><pattern id="dots" width="6" height="6" '
        f'patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="{PAPER}"/>'
        f'<circle cx="3" cy="3" r="1.1" fill="{INK}"/></pattern></defs>'
        f'<rect width="{WIDTH}" height="{height:.0f}" fill="{PAPER}"/>'
        f'<text x="24" y="30" font-size="16" font-weight="bold">{title}</text>' + "".join(body) + "</svg>"
    )


def _short(label: str) -> str:
    return label if len(label) <= 38 else f"{label[:36]}…"


def _text(
    x: float, y: float, text: str, *, anchor: str = "start", colour: str = INK, weight: str = "normal"
) -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}" font-weight="{weight}">'
        f"{escape(text)}</text>"
    )


def _rect(x: float, y: float, width: float, height: float, fill: str) -> str:
    return (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{max(width, 0.8):.1f}" height="{height:.0f}" '
        f'fill="{fill}" stroke="{INK}" stroke-width="0.8"/>'
    )


def _line(
    x1: float, y1: float, x2: float, y2: float, colour: str, *, dashes: str = "", width: float = 1
) -> str:
    dash = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<line x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}" '
        f'stroke="{colour}" stroke-width="{width}"{dash}/>'
    )
