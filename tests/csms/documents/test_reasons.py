from dataclasses import replace

from csms.documents import reasons
from csms.documents.sentence import voice_of
from csms.ledger.statement import Estimate, Sum
from tests.csms.documents import samples

NBSP = "\N{NO-BREAK SPACE}"


def test_prices_are_told_in_words() -> None:
    statement = samples.statement("en")
    part = reasons.prices(statement, voice_of(statement))
    assert part is not None
    assert part["intro"][0] == (
        "Energy is charged at the day-ahead market price of each interval in which it was drawn, times 1, "
        "plus a mark-up of €0.05 and fees of €0.062 for each kWh."
    )
    assert part["intro"][-1].replace(NBSP, " ") == (
        "Losses between the main meter and the chargers were 3.76 % and are borne by all, by kilowatt-hours."
    )
    assert reasons.prices(replace(statement, explained=()), voice_of(statement)) is None


def test_each_estimate_is_listed_with_its_reason() -> None:
    statement = samples.statement("en")
    part = reasons.estimates(statement, voice_of(statement))
    assert [row["cells"] for row in part["rows"]] == [
        ["5 Jan 22:00", "The register at the end was missing.", "19.222"],
        ["1 Feb 00:00", "The register at local midnight lies on the line between two readings.", "4.100"],
    ]
    assert part["notes"] == [f"2 places, 23.322{NBSP}kWh in all."]


def test_many_of_a_reason_are_summed_up() -> None:
    many = tuple(Estimate(reason="boundary", energy_wh=100) for _ in range(41))
    statement = replace(samples.statement("en"), estimates=many)
    part = reasons.estimates(statement, voice_of(statement))
    assert [row["cells"][-1] for row in part["rows"]] == ["4.100"]


def test_an_unknown_reason_is_still_shown() -> None:
    statement = replace(samples.statement("en"), estimates=(Estimate(reason="sunspots", energy_wh=1),))
    assert reasons.estimates(statement, voice_of(statement))["rows"][0]["cells"][1] == "sunspots"


def test_nothing_estimated_is_said_too() -> None:
    statement = replace(samples.statement("en"), estimates=())
    assert "Every register" in reasons.estimates(statement, voice_of(statement))["intro"][0]


def test_how_it_adds_up_shows_ones_own_part_and_others_as_a_sum() -> None:
    statement = samples.statement("en")
    part = reasons.adds_up(statement, voice_of(statement))
    assert part is not None
    told = {row["cells"][0].strip(): row["cells"][1].replace(NBSP, " ") for row in part["rows"][:5]}
    assert told == {
        "Main meter of the chargers": "1,000.000 kWh",
        "Sum of all chargers": "962.400 kWh",
        "Members": "750.500 kWh",
        "of which this document": "280.106 kWh",
        "Guests": "211.900 kWh",
    }
    money = [row["cells"] for row in part["rows"] if row["cells"][0].strip().startswith("of which")]
    assert money[1][1] == "€248.53"
    deep = [row["cells"][0].count(reasons.INDENT) for row in part["rows"]]
    assert deep == [0, 1, 2, 3, 2, 2, 1, 0, 1, 2, 1, 1]


def test_figures_that_the_ledger_does_not_give_are_not_shown() -> None:
    statement = samples.statement("en")
    few = tuple(line for line in statement.adds_up if line.key is Sum.INVOICES)
    part = reasons.adds_up(replace(statement, adds_up=few), voice_of(statement))
    assert part is not None
    assert len(part["rows"]) == 1
    assert reasons.adds_up(replace(statement, adds_up=()), voice_of(statement)) is None


def test_the_rules_and_inputs_are_named_at_the_end() -> None:
    statement = samples.statement("en")
    part = reasons.last_words(statement, voice_of(statement))
    assert part is not None
    assert part["intro"] == ["The yard's gate is closed for repairs on 14 February."]
    assert "version 1" in part["notes"][0]
    assert "9f2c4e81d07a5b36" in part["notes"][0]
    without = reasons.last_words(replace(statement, notes=()), voice_of(statement))
    assert without is not None
    assert without["title"] == "", "a heading over nothing but a fingerprint"
    assert reasons.last_words(replace(statement, rule_version="", notes=()), voice_of(statement)) is None
