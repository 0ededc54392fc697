"""The invented site is what it says, and would be safe as described."""

from collections import Counter

from tools.simulator.station import Version
from tools.weavers_yard import people
from tools.weavers_yard.site import GUEST_BAYS, RESIDENT_BAYS, VAN_BAYS, WEAVERS_YARD

CIRCUITS = {circuit.name: circuit for circuit in WEAVERS_YARD.circuits}


def test_24_bays_on_two_boards_of_both_versions_with_the_wiring_turned() -> None:
    bays = WEAVERS_YARD.bays
    assert len(bays) == len({bay.identity for bay in bays}) == 24
    assert Counter(bay.circuit for bay in bays) == {"Court board": 16, "Mill board": 8}
    assert Counter(bay.version for bay in bays) == {Version.V16: 12, Version.V201: 12}
    assert Counter(bay.wiring[0] for bay in bays) == {0: 9, 1: 8, 2: 7}
    assert bays[1].lines == ("L2", "L3", "L1")
    assert all(16 <= len(bay.password) <= 40 for bay in bays)  # what 2.0.1 allows for a Basic password


def test_all_fallbacks_with_the_worst_base_load_fit_every_circuit() -> None:
    """The static condition of the dead man: the sum of the fallbacks and the worst base load is within each
    limit."""
    falls: Counter[str] = Counter()
    for bay in WEAVERS_YARD.bays:
        assert bay.fallback_a == 0 or bay.fallback_a >= 6
        circuit: str | None = bay.circuit
        while circuit is not None:
            falls[circuit] += int(bay.fallback_a)
            circuit = CIRCUITS[circuit].fed_from
    assert falls["Mill supply"] == 36
    for circuit_ in WEAVERS_YARD.circuits:
        assert falls[circuit_.name] + circuit_.worst_base_a <= circuit_.limit_a


def test_everyone_has_a_card_and_one_card_is_blocked() -> None:
    members = {member.name for member in WEAVERS_YARD.members}
    assert len(members) == len(WEAVERS_YARD.members) == 48 + 6 + 3 + 1
    uids = [card.uid for card in WEAVERS_YARD.cards]
    assert len(set(uids)) == len(uids)
    assert all(len(bytes.fromhex(uid)) == 7 for uid in [*uids, people.UNKNOWN_CARD])
    assert people.UNKNOWN_CARD not in uids
    assert {card.member for card in WEAVERS_YARD.cards} == members
    assert [card.label for card in WEAVERS_YARD.cards if card.blocked] == ["lost in the canal"]


def test_rights_name_groups_and_stations_that_exist_and_cover_every_bay_once() -> None:
    groups = {group.name for group in WEAVERS_YARD.groups}
    assert {right.group for right in WEAVERS_YARD.rights} == groups
    named = [station for right in WEAVERS_YARD.rights for station in right.stations]
    assert sorted(named) == sorted(bay.identity for bay in WEAVERS_YARD.bays)
    assert {member.group for member in WEAVERS_YARD.members} == groups | {None}
    tariffs = {tariff["id"] for tariff in WEAVERS_YARD.tariffs}
    assert {group.tariff for group in WEAVERS_YARD.groups} == tariffs
    assert not set(VAN_BAYS) & set(RESIDENT_BAYS)
    assert not set(GUEST_BAYS) & set(RESIDENT_BAYS)


def test_vans_are_to_be_full_by_six() -> None:
    vans = [member for member in WEAVERS_YARD.members if member.group == people.BAKERY]
    assert len(vans) == 6
    assert {member.full_by for member in vans} == {"06:00"}
