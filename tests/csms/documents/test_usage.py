from dataclasses import replace
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from csms.documents import usage
from csms.documents.sentence import voice_of
from csms.ledger.statement import Flag
from tests.csms.documents import samples


@pytest.mark.parametrize(
    ("highest_wh", "step", "top"),
    [(22_888, 10_000, 30_000), (1, 1, 1), (40_000, 10_000, 40_000), (40_001, 20_000, 60_000), (7, 2, 8)],
)
def test_an_axis_holds_its_highest_in_few_round_steps(highest_wh: int, step: int, top: int) -> None:
    assert usage.axis(highest_wh) == (step, top)


def test_bars_are_as_high_as_the_energy_of_their_day() -> None:
    statement = samples.statement("en")
    part = usage.chart(statement, voice_of(statement))
    assert part is not None
    bars = part["bars"]
    assert len(bars) == 31
    highs = [bar["measured"] + bar["estimated"] for bar in bars]
    assert highs == [day.energy_wh / 30_000 for day in statement.days]
    # The third session (5 January, 22:05 to 03:07 at the site) is estimated.
    assert [n + 1 for n, bar in enumerate(bars) if bar["estimated"]] == [5, 28]
    assert [tick["label"] for tick in part["ticks"]] == ["0", "10", "20", "30"]
    assert "280.106" in part["alt"]


def test_without_energy_there_is_no_chart() -> None:
    statement = replace(samples.statement(), days=samples.days_of(()))
    assert usage.chart(statement, voice_of(statement)) is None


def test_a_part_that_ends_at_midnight_does_not_touch_the_next_day() -> None:
    session = replace(
        samples.session_lines(1)[0],
        start=datetime(2026, 1, 31, 21, tzinfo=UTC),
        stop=datetime(2026, 1, 31, 23, tzinfo=UTC),
        flags=(Flag.ESTIMATED,),
    )
    assert usage.guessed_days([session], voice_of(samples.statement())) == {date(2026, 1, 31)}


def test_the_list_has_every_session_and_its_sum() -> None:
    statement = samples.statement("en", sessions=300)
    part = usage.sessions(statement, voice_of(statement))
    assert len(part["rows"]) == 301
    last = part["rows"][-1]["cells"]
    total = Decimal(sum(one.energy_wh for one in statement.sessions)) / 1000
    assert (last[0], last[6]) == ("Sum of 300", f"{total:,.3f}")
    assert {len(row["cells"]) for row in part["rows"]} == {len(part["columns"])}


def test_a_mark_is_explained_below_the_list() -> None:
    statement = samples.statement("en")
    part = usage.sessions(statement, voice_of(statement))
    assert part["rows"][2]["cells"][-1] == "≈"
    legend = part["notes"][-1]
    assert "≈  energy estimated" in legend
    assert "signed" not in legend
    assert set(usage.MARKS) == set(Flag)
    assert len(set(usage.MARKS.values())) == len(Flag)


def test_a_register_that_is_not_known_is_a_dash_and_no_flags_no_column() -> None:
    session = replace(samples.session_lines(1)[0], register_start_wh=None, flags=())
    statement = replace(samples.statement("en"), sessions=(session,))
    part = usage.sessions(statement, voice_of(statement))
    assert part["rows"][0]["cells"][4] == "–"
    assert len(part["columns"]) == 8


def test_no_session_is_said() -> None:
    statement = replace(samples.statement("en"), sessions=())
    part = usage.sessions(statement, voice_of(statement))
    assert part["intro"] == ["No charging session in this period."]
