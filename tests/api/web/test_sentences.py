"""Facts in words, as the list of latest events shows them."""

from datetime import UTC, datetime

import pytest

from api.web.sentences import QUIET, SENTENCES, refusals, sentence

AT = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
NAMES = {"COURT-01": "Court 1", "flat-12": "Flat 12", "main": "Supply"}


def said(topic: str, **body: object) -> tuple[str, str] | None:
    event = sentence(topic, body, AT, NAMES)
    if event is None:
        return None
    assert event.at == AT
    return event.tone, event.says


@pytest.mark.parametrize(
    ("topic", "body", "expected"),
    [
        (
            "session.started",
            {"station": "COURT-01", "member": "flat-12", "verdict": "accepted"},
            ("", "Flat 12 plugged in at Court 1."),
        ),
        (
            "session.started",
            {"station": "COURT-01", "token": "04AB", "verdict": "blocked"},
            ("", "card 04AB plugged in at Court 1, though the card is blocked."),
        ),
        (
            "session.ended",
            {"station": "COURT-01", "member": "flat-12", "energy_wh": 12345, "evse": 2},
            ("", "Flat 12 ended at Court 1 / 2 with 12.35 kWh."),
        ),
        (
            "session.priced",
            {"station": "COURT-01", "member": "Flat 12", "cost_incl": "3.20", "currency": "EUR"},
            ("", "The session of Flat 12 at Court 1 costs 3.20 EUR."),
        ),
        (
            "token.refused",
            {"station": "COURT-01", "sentence": "Token 04AB of Flat 12 has no right at COURT-01"},
            ("bad", "Refused at Court 1: Token 04AB of Flat 12 has no right at Court 1."),
        ),
        (
            "token.unknown",
            {"station": "COURT-01", "token": "04AB"},
            ("bad", "Unknown card 04AB held to Court 1: refused."),
        ),
        (
            "cap.asked",
            {"circuit": "main", "cap_w": 4_200, "reason": "grid operator"},
            ("wait", "Asked from outside: at most 4.2 kW at Supply (grid operator)."),
        ),
        (
            "cap.withdrawn",
            {"circuit": "main", "cap_w": 500},
            ("", "Taken back from outside: at most 0.5 kW at Supply."),
        ),
        ("station.lost", {"station": "COURT-01"}, ("bad", "Court 1 has lost its connection.")),
    ],
)
def test_a_fact_is_told_with_names(topic: str, body: dict[str, object], expected: tuple[str, str]) -> None:
    assert said(topic, **body) == expected


def test_what_is_technical_or_not_known_is_not_told() -> None:
    assert said("station.status", station="COURT-01", status="available") is None
    assert said("something.else") is None
    assert SENTENCES.keys() >= QUIET


def test_no_sentence_needs_more_than_an_empty_body() -> None:
    """An old fact, or one of another version, must not break the page."""
    for topic, (_tone, says) in SENTENCES.items():
        assert says({}).strip(), topic


def test_the_refusal_of_the_last_card_stands() -> None:
    facts: list[tuple[str, str, dict[str, object]]] = [
        ("token.unknown", "COURT-01", {"evse": 1}),
        ("token.refused", "COURT-01", {"evse": 1, "sentence": "is blocked"}),
        ("token.refused", "COURT-02", {"sentence": "has no right"}),
    ]
    assert refusals(facts) == {("COURT-01", 1): "unknown card", ("COURT-02", 1): "has no right"}


@pytest.mark.parametrize(
    "since",
    [
        ("session.started", "7", {"station": "COURT-01", "evse": 1}),
        ("station.status", "COURT-01", {"evse": 1, "status": "available"}),
    ],
)
def test_what_has_happened_since_makes_a_refusal_past(since: tuple[str, str, dict[str, object]]) -> None:
    refused = ("token.refused", "COURT-01", {"evse": 1, "sentence": "is blocked"})
    assert refusals([since, refused]) == {}
    assert refusals([refused, since]) == {("COURT-01", 1): "is blocked"}
    elsewhere = ("token.refused", "COURT-01", {"evse": 2, "sentence": "is blocked"})
    assert refusals([since, elsewhere]) == {("COURT-01", 2): "is blocked"}
