"""Tokens: spellings of one are one, and what cannot be a token is refused by its field."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from csms.access.tokens.token import Token, check_token, fold, shown
from csms.errors import InvalidInput
from csms.stations.model import TokenKind

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
TOKEN = Token(
    id="tok_1", folded="", text=" 04:A1:b2 ", kind=TokenKind.RFID, member_id="flat-12", created_at=NOW
)


@pytest.mark.parametrize(
    "spelling", ["04a1b2c3", "04A1B2C3", "04:A1:B2:C3", "04-a1-b2-c3", " 04 A1 B2 C3\x00", "０４A1B2C3"]
)
def test_spellings_of_one_card_are_one(spelling: str) -> None:
    # OCPP 1.6 edition 2, section 7.28: IdToken is a CiString, compared without regard to case.
    assert fold(spelling) == "04a1b2c3"


def test_the_separators_of_an_emaid_are_optional() -> None:
    # ISO 15118-1 annex H: "-" may be left out of an eMAID (from memory).
    assert fold("DE-8AA-CA2B3C4D5-L") == fold("de8aaca2b3c4d5l")


def test_decimal_and_hex_spellings_are_not_guessed_to_be_one() -> None:
    assert fold("DEADBEEF") != fold("3735928559")


@given(st.text(max_size=600))
def test_folding_is_stable_and_can_be_stored(text: str) -> None:
    folded = fold(text)
    assert fold(folded) == folded or len(folded) > 128
    assert len(folded) <= 255
    assert "\x00" not in folded
    assert len(shown(text)) <= 255


def test_endless_tokens_with_one_beginning_stay_two() -> None:
    assert fold("a" * 300 + "1") != fold("a" * 300 + "2")


def test_a_token_comes_out_in_its_final_form() -> None:
    token = check_token(replace(TOKEN, label=" blue fob ", group_text=" family "))
    assert (token.text, token.folded, token.label, token.group_text) == (
        "04:A1:b2",
        "04a1b2",
        "blue fob",
        "family",
    )


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (replace(TOKEN, text=" :-: "), "text"),
        (replace(TOKEN, text="1" * 256), "text"),
        (replace(TOKEN, kind=TokenKind.NONE), "kind"),
        (replace(TOKEN, label="two\nlines"), "label"),
        (replace(TOKEN, label="x" * 121), "label"),
        (replace(TOKEN, valid_from=datetime(2026, 1, 1)), "valid_from"),  # noqa: DTZ001
        (replace(TOKEN, valid_to=datetime(2026, 1, 1)), "valid_to"),  # noqa: DTZ001
        (replace(TOKEN, valid_from=NOW, valid_to=NOW), "valid_to"),
        (replace(TOKEN, valid_from=NOW, valid_to=NOW - timedelta(days=1)), "valid_to"),
    ],
)
def test_what_is_wrong_with_a_token_is_named(wrong: Token, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check_token(wrong)
    assert refused.value.field == field
