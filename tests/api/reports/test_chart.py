"""Charts: sound XML, told in words, and readable without colour."""

import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import pytest

from api.reports.chart import Bars, Curves, draw, number, ticks, words

SVG = "{http://www.w3.org/2000/svg}"
START = datetime(2026, 11, 2, tzinfo=UTC)


def texts(svg: str) -> list[str]:
    return [each.text or "" for each in ET.fromstring(svg).iter(f"{SVG}text")]


def quarters(*values: float | None) -> Curves:
    at = tuple(START + timedelta(minutes=15 * i) for i in range(len(values)))
    rows = tuple(values)
    return Curves("Load", "A", at, (("L1", rows), ("L2", rows), ("L3", rows)), 63.0)


def test_bars_have_their_names_values_and_words() -> None:
    chart = Bars("Energy <by> member", "kWh", ("Flat 12", "Van & co"), (("Energy", (12.5, 3.25)),))
    svg = draw(chart)
    root = ET.fromstring(svg)
    assert root.attrib["role"] == "img"
    assert [each.tag.removeprefix(SVG) for each in list(root)[:2]] == ["title", "desc"]
    assert root.attrib["aria-labelledby"].split() == [list(root)[i].attrib["id"] for i in (0, 1)]
    said = texts(svg)
    assert {"Flat 12", "Van & co", "12.5", "3.25", "Energy <by> member, kWh"} <= set(said)
    assert words(chart) == (
        "Energy <by> member: 2 bars in kWh, together 15.8. The longest is Flat 12 with 12.5."
    )


def test_series_differ_without_colour() -> None:
    stacked = Bars("Use", "%", ("Bay 1",), (("Charging", (10.0,)), ("Waiting", (5.0,)), ("Idle", (2.0,))))
    fills = [
        rect.attrib["fill"]
        for rect in ET.fromstring(draw(stacked)).iter(f"{SVG}rect")
        if rect.attrib.get("stroke")
    ]
    assert len(set(fills)) == 3
    assert {"url(#hatch)", "url(#dots)"} <= set(fills), "two of three are told by their hatching"
    svg = draw(quarters(1.0))
    assert {"L1", "L2", "L3"} <= set(texts(svg))
    paths = [each for each in ET.fromstring(svg).iter(f"{SVG}path") if each.attrib.get("fill") == "none"]
    heights = [float(each.attrib["d"].split("H")[0].split()[1]) for each in paths]
    assert len(heights) == 3
    assert min(b - a for a, b in pairwise(heights)) > 100, "each line has a panel of its own"


def test_nothing_that_a_content_policy_forbids() -> None:
    for chart in (quarters(1.0, 2.0), Bars("x", "", ("a",), (("s", (1.0,)),))):
        svg = draw(chart)
        assert "style" not in svg
        assert "<script" not in svg
        assert "href" not in svg


def test_what_is_not_known_is_a_gap() -> None:
    svg = draw(quarters(1.0, 2.0, None, 4.0))
    paths = [
        each.attrib["d"]
        for each in ET.fromstring(svg).iter(f"{SVG}path")
        if each.attrib.get("fill") == "none"
    ]
    assert sum(path.count("M") for path in paths if "H" in path) == 2 * 3
    assert words(quarters(None)) == "Load: nothing to show."
    assert "Nothing was measured" in draw(quarters(None))


def test_an_empty_chart_says_so() -> None:
    empty = Bars("Energy", "kWh", (), (("Energy", ()),))
    assert "Nothing in this period." in texts(draw(empty))
    assert words(empty) == "Energy: nothing to show."


def test_many_bars_become_few_and_lose_nothing() -> None:
    labels = tuple(f"Flat {n}" for n in range(78))
    chart = Bars("Energy", "kWh", labels, (("Energy", tuple(float(n) for n in range(78))),))
    said = texts(draw(chart))
    assert "19 others" in said
    assert number(sum(range(19))) in said
    assert "Flat 77" in said
    assert "Flat 3" not in said


def test_what_lies_below_nought_is_drawn_to_the_left() -> None:
    svg = draw(Bars("Surplus", "EUR", ("Bay 1", "Bay 2"), (("Surplus", (5.0, -5.0)),)))
    bars = [each for each in ET.fromstring(svg).iter(f"{SVG}rect") if each.attrib.get("stroke")]
    right, left = (float(bar.attrib["x"]) for bar in bars)
    assert left < right
    assert all(float(bar.attrib["width"]) > 0 for bar in bars)


@pytest.mark.parametrize(("low", "high"), [(0, 1), (0, 63), (-5, 5), (0, 0.004), (0, 123_456), (3, 3)])
def test_ticks_are_round_and_reach_over_all(low: float, high: float) -> None:
    found = ticks(low, high)
    assert found[0] <= low
    assert found[-1] >= high
    assert 2 <= len(found) <= 8
    steps = {round(b - a, 9) for a, b in pairwise(found)}
    assert len(steps) == 1


def test_numbers_are_for_people() -> None:
    assert [number(value) for value in (0, 1234567.8, 12.345, 0.04, -3.0)] == [
        "0",
        "1\u202f234\u202f568",
        "12.3",
        "0.04",
        "-3",
    ]
