from dataclasses import replace

import pytest

from csms.documents.language import Language
from csms.documents.sentence import voice_of
from csms.errors import InvalidInput
from csms.ledger.statement import LineKind
from tests.csms.documents import samples


def test_arguments_are_written_by_what_they_are() -> None:
    voice = voice_of(samples.statement("de"))
    told = voice.sentence(
        "explained.pool_key",
        {"pool": "Leistung", "key": "kwh", "amount": "462.00", "weight": "320.4", "whole": "962.4"},
    )
    plain = told.replace("\N{NO-BREAK SPACE}", " ")
    assert plain == (
        "Leistung: 462,00 € für die ganze Anlage, verteilt nach Kilowattstunden. "
        "Davon entfallen auf Sie 320,400 kWh von 962,400 kWh."
    )


def test_a_share_of_places_has_no_unit() -> None:
    shares = {"pool": "Upkeep", "key": "days", "amount": "10", "weight": "31", "whole": "1488"}
    told = voice_of(samples.statement("en")).sentence("explained.pool_key", shares)
    assert told.endswith("Yours is 31 of 1,488.")


def test_a_correction_names_its_month_and_why() -> None:
    statement = samples.spot_statement("en")
    voice = voice_of(statement)
    correction = next(line for line in statement.lines if line.kind is LineKind.CORRECTION)
    assert voice.line(correction) == "Correction for December 2025: energy"
    assert voice.under(correction) == "a market price was corrected"


def test_a_share_names_its_supplier_if_there_is_one() -> None:
    line = samples.pool_lines()[0]
    voice = voice_of(samples.statement("en"))
    assert voice.under(line) == "Canal Power; shared by kilowatt-hours"
    without = replace(line, arguments={"pool": "Upkeep", "key": "equal", "supplier": ""})
    assert voice.under(without) == "Shared equally"


def test_what_people_typed_is_no_placeholder() -> None:
    voice = voice_of(samples.statement("en"))
    line = replace(samples.pool_lines()[0], arguments={"pool": "{supplier} 5", "key": "{0}"})
    assert voice.line(line) == "Share of: {supplier} 5"
    assert voice.under(line) == "Shared {0}"


def test_a_missing_argument_leaves_a_gap_that_shows() -> None:
    assert voice_of(samples.statement("en")).sentence("line.energy", {}) == "Energy: …"


def test_another_language_can_be_asked_for() -> None:
    assert voice_of(samples.statement("en"), Language.SWEDISH).say("pay.open") == "Att betala"


def test_a_language_without_a_catalogue_is_refused() -> None:
    with pytest.raises(InvalidInput, match="language: 'fi'"):
        voice_of(samples.statement("fi"))
