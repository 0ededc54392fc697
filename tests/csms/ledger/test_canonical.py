"""The canonical text: equal values give equal texts, and the text gives the value back."""

import hashlib
import json
from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from csms.ledger import canonical
from csms.ledger.statement import (
    DayEnergy,
    DocumentLink,
    Flag,
    Line,
    LineKind,
    SessionLine,
    Unit,
    VatCategory,
)

LINE = Line(
    number=1,
    kind=LineKind.POOL_SHARE,
    arguments={"pool": "Näset", "key": "kwh"},
    quantity=Decimal("1E+2"),
    unit=Unit.ONE,
    unit_price=Decimal("0.10"),
    net_minor=1000,
    vat_category=VatCategory.NOT_SUBJECT,
    vat_percent=None,
    session_ids=(3, 4),
)
PART = SessionLine(
    session_id=7,
    start=datetime(2026, 1, 31, 21, 0, tzinfo=UTC),
    stop=datetime(2026, 1, 31, 23, 0, tzinfo=UTC),
    station_id="garage-1",
    station="Bay 1",
    token="card",
    register_start_wh=None,
    register_stop_wh=5_012_400,
    energy_wh=12_400,
    cost_minor=-3,
    flags=(Flag.SPLIT,),
)


def test_a_text_gives_its_value_back() -> None:
    link = DocumentLink("WY-3", date(2026, 2, 1))
    day = DayEnergy(date(2026, 1, 31), 12_400)
    for value in (LINE, PART, link, day):
        assert canonical.read(type(value), canonical.write(value)) == value


def test_the_text_is_plain_json_with_exact_decimals() -> None:
    written = json.loads(canonical.write(LINE))
    assert written["quantity"] == "100"
    assert written["unit_price"] == "0.10"
    assert written["vat_percent"] is None
    assert json.loads(canonical.write(PART))["stop"] == "2026-01-31T23:00:00Z"


def test_the_order_in_which_a_mapping_was_filled_does_not_matter() -> None:
    assert canonical.write({"b": 1, "a": 2}) == canonical.write({"a": 2, "b": 1}) == '{"a":2,"b":1}'


def test_a_float_hides_in_no_decimal_and_strange_things_are_refused() -> None:
    with pytest.raises(TypeError):
        canonical.write(object())


def test_the_digest_is_sha256_of_the_utf8_text() -> None:
    # FIPS 180-4, the example "abc".
    assert canonical.digest("abc") == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert canonical.digest("Näset") == hashlib.sha256("Näset".encode()).hexdigest()
