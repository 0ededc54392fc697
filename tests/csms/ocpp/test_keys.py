"""Our names against every name in the official schemas of all versions."""

import json
from collections.abc import Iterator
from importlib.resources import files
from typing import Any

import pytest

from csms.ocpp.keys import ODD, ODD_WORDS, VERBATIM, our_name, our_word, snake, wire_name


def nodes(node: Any) -> Iterator[dict[str, Any]]:
    if isinstance(node, dict):
        yield node
        for inner in node.values():
            yield from nodes(inner)
    elif isinstance(node, list):
        for inner in node:
            yield from nodes(inner)


def every_node(version: str) -> Iterator[dict[str, Any]]:
    for place in files("ocpp").joinpath(version, "schemas").iterdir():
        if place.name.endswith(".json"):
            yield from nodes(json.loads(place.read_text("utf-8-sig")))


@pytest.mark.parametrize("version", ["v16", "v201", "v21"])
def test_no_two_names_or_words_of_one_place_become_the_same(version: str) -> None:
    looked_at = 0
    for node in every_node(version):
        properties, words = node.get("properties"), node.get("enum")
        if isinstance(properties, dict):
            assert len({our_name(name) for name in properties}) == len(properties), sorted(properties)
            assert all(wire_name(properties, our_name(name)) == name for name in properties)
            looked_at += len(properties)
        if isinstance(words, list):
            assert len({our_word(word) for word in words}) == len(words), sorted(words)
    assert looked_at > 100


def test_every_exception_is_of_some_version() -> None:
    names: set[str] = set()
    words: set[str] = set()
    for version in ("v16", "v201", "v21"):
        for node in every_node(version):
            if isinstance(node.get("properties"), dict):
                names |= node["properties"].keys()
            words |= set(node["enum"]) if isinstance(node.get("enum"), list) else set()
    assert ODD.keys() | VERBATIM <= names
    assert ODD_WORDS.keys() <= words


@pytest.mark.parametrize(
    ("wire", "ours"),
    [
        # Names that do not come back from the conversion by pattern of the package `ocpp` 2.1.0.
        ("limit_L2", "limit_l2"),
        ("dischargeLimit_L3", "discharge_limit_l3"),
        ("fixedPFAbsorb", "fixed_pf_absorb"),
        ("receiptUrl", "receipt_url"),
        ("priceScheduleID", "price_schedule_id"),
        ("taxRuleID", "tax_rule_id"),
        ("prioritizedEMAIDs", "prioritized_emaids"),
        ("limitAtSoC", "limit_at_soc"),
        ("evseId", "evse"),
        ("hv10MinMeanValue", "hv10_min_mean_value"),
    ],
)
def test_a_name_of_ours(wire: str, ours: str) -> None:
    assert our_name(wire) == ours
    assert wire_name(["customData", wire], ours) == wire


def test_a_name_that_is_not_there() -> None:
    assert wire_name(["limit"], "limit_l2") is None
    assert snake("HFMustTrip") == "hf_must_trip"
    assert our_word("AC_three_phase") == "ac_three_phase"
