"""The opening shows the main job whatever the hour, and the days after it follow the drawn stays."""

from collections import Counter
from datetime import UTC, datetime, timedelta
from random import Random

from tools.weavers_yard import people
from tools.weavers_yard.arrivals import Stay
from tools.weavers_yard.scenario import bays_of, opening, scenario
from tools.weavers_yard.site import VAN_BAYS, WEAVERS_YARD

START = datetime(2026, 11, 25, 17, tzinfo=UTC)
REFUSED = {"Stranger", people.flat(people.LOST_CARD_FLAT).name, people.NO_RIGHTS.name}


def test_the_opening_asks_for_more_than_the_supply_has_on_every_line() -> None:
    """11 cars at the lowest current of IEC 61851-1, 6 A, are 66 A on each line of a supply of 63 A, before
    any base load."""
    lines: Counter[int] = Counter()
    for visit in opening(START, Random(1)):
        if visit.who in REFUSED:
            continue
        wiring = WEAVERS_YARD.bay(visit.bays[0]).wiring
        lines.update(wiring[: visit.car.lines])
    assert min(lines[line] for line in range(3)) * 6 > WEAVERS_YARD.circuits[0].limit_a


def test_everything_of_the_opening_happens_within_half_a_minute_at_different_bays() -> None:
    visits = opening(START, Random(1))
    assert max(visit.arrives_at for visit in visits) - START <= timedelta(seconds=30)
    places = [visit.bays[0] for visit in visits]
    assert len(set(places)) == len(places)


def test_three_are_refused_each_for_another_reason() -> None:
    cards = {card.uid: card for card in people.CARDS}
    by_who = {visit.who: visit for visit in opening(START, Random(1))}
    assert by_who["Stranger"].card not in cards
    assert cards[by_who[people.flat(people.LOST_CARD_FLAT).name].card].blocked
    assert cards[by_who[people.NO_RIGHTS.name].card].member == people.NO_RIGHTS.name
    groups = {member.name: member.group for member in people.MEMBERS}
    assert groups[people.NO_RIGHTS.name] is None


def test_all_others_go_where_their_group_may_charge() -> None:
    allowed = {right.group: set(right.stations) for right in WEAVERS_YARD.rights}
    groups = {member.name: member.group for member in people.MEMBERS}
    holders = {card.uid: card.member for card in people.CARDS}
    for visit in opening(START, Random(1)):
        group = groups.get(visit.who)
        if visit.who in REFUSED or group is None:
            continue
        assert set(visit.bays) <= allowed[group]
        assert holders[visit.card] == visit.who


def test_drawn_stays_become_visits_and_a_car_that_is_here_does_not_come_twice() -> None:
    def stay(vehicle: int, is_van: bool, hours: float, energy_wh: float) -> Stay:
        at = START + timedelta(hours=hours)
        return Stay(
            vehicle=vehicle,
            is_van=is_van,
            arrives_at=at,
            departs_at=at + timedelta(hours=3),
            energy_wh=energy_wh,
        )

    drawn = [
        stay(5, True, 1, 20_400),
        stay(0, True, 0.5, 1000),
        stay(9, False, 20, 1_000_000),
        stay(1, True, -1, 5),
    ]
    visits = [v for v in scenario(START, drawn, seed=1) if v.arrives_at > START + timedelta(minutes=2)]
    assert [v.who for v in visits] == ["Bakery van 6", people.residents()[9].member]
    assert visits[0].bays == VAN_BAYS
    assert visits[0].soc == 1 - 20_400 / people.VAN.battery_wh
    assert visits[1].soc == 0.08
    assert bays_of(people.guests()[0]) == ("COURT-13", "COURT-14", "COURT-15", "COURT-16")
