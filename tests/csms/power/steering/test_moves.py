"""Cars on one line, at stations that can choose it: put where they have most, and never moved under load.

A yard of 3 x 32 A. What flows on each line is taken from the line that the station was told, as long as it
does what it says.
"""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from csms.power.installation import LINES, Line, System
from csms.power.sharing.allocator import allocate
from csms.power.sharing.demand import Demand
from csms.power.steering import moves
from csms.power.steering.bay import Move
from csms.power.steering.profile import Purpose
from csms.power.steering.promises import Outcome
from csms.power.steering.targets import demand
from csms.power.steering.timing import USUAL

Make = Callable[..., Any]
L1, L2, L3 = Line


class Street:
    """Cars on one line at `bays` stations; `deaf`: stations that use their L1 whatever they are told."""

    def __init__(self, yard: Make, bays: int, *, deaf: frozenset[int] = frozenset(), **more: Any) -> None:
        self.site = yard(bays=bays, limit_a=32.0, can_choose_line=True, **more).connect()
        self.deaf = deaf
        self.most_a = 0.0
        self.moved_under_load = False
        for i in range(bays):
            self.site.change(i, lambda bay: replace(bay, learned=replace(bay.learned, chooses=True)))
        self.site.settle(2)
        self.line = [1] * bays

    def go(self, seconds: int) -> None:
        site = self.site
        for _ in range(seconds):
            site.now_s += 1.0
            site.look()
            for offer in site.queued:
                i = site.evses.index(offer.evse)
                if offer.line is not None and i not in self.deaf and offer.line != self.line[i]:
                    self.moved_under_load |= site.real[offer.evse].draw(site.now_s) > 0
                    self.line[i] = offer.line
            site.answer_all()
            carried = [0.0, 0.0, 0.0]
            for i, evse in enumerate(site.evses):
                drawn = site.real[evse].draw(site.now_s)
                carried[self.line[i] - 1] += drawn
                if site.real[evse].transaction:
                    site.measure(i, *(drawn if n == self.line[i] else 0.0 for n in (1, 2, 3)))
            self.most_a = max(self.most_a, *carried)

    def offers(self) -> list[float]:
        return [offer or 0.0 for offer in self.site.offered()]


def test_cars_known_to_use_one_line_start_on_three(yard: Make) -> None:
    """Three such cars on a fuse of 32 A get 32 A each (power.md's own example)."""
    street = Street(yard, 3)
    street.site.plug(0, 1, 2, lines=1)
    street.go(120)
    assert sorted(street.line) == [1, 2, 3]
    assert street.offers() == [32.0, 32.0, 32.0]
    assert street.most_a <= 32.0
    assert not street.moved_under_load


def test_a_car_that_is_found_to_use_one_line_is_paused_and_put_on_a_free_one(yard: Make) -> None:
    street = Street(yard, 2)
    street.site.plug(0, 1)
    street.go(120)
    assert street.line == [1, 1]
    assert street.offers() == [16.0, 16.0]
    street.go(600)  # not before both have had their shortest time on
    assert sorted(set(street.line)) == [1, 2]
    street.go(120)
    assert street.offers() == [32.0, 32.0]
    assert street.most_a <= 32.0
    assert not street.moved_under_load
    told = [offer.line for offer in street.site.sent if offer.line is not None]
    assert told, "the line is in the offers, the renewals too"
    since = len(street.site.sent)
    street.go(1000)
    later = [offer for offer in street.site.sent[since:] if offer.purpose is Purpose.LIVE]
    assert {offer.current_a for offer in later} == {32.0}  # and stays there
    mover = street.site.evses[street.line.index(2)]
    assert {offer.line for offer in later if offer.evse == mover} == {2}


def test_while_it_is_moved_it_counts_on_both_lines(yard: Make) -> None:
    street = Street(yard, 1)
    street.site.plug(0)
    street.go(60)
    bay = street.site.bay(0)
    assert bay.lines == (L1,)
    begun = moves.begin(bay, 3, street.site.now_s)
    assert begun.lines == (L1, L3)
    assert begun.move == Move(3, street.site.now_s)
    street.site.change(0, lambda _: begun)
    street.go(10)
    assert (street.offers(), street.line) == ([0.0], [1])
    street.go(60)
    assert (street.offers(), street.line) == ([32.0], [3])
    assert street.site.bay(0).lines in ((L1, L3), (L3,))
    street.go(60)
    assert street.site.bay(0).lines == (L3,)  # measured there alone for half a minute


def test_the_pause_lasts_until_the_car_is_at_rest_and_long_enough(yard: Make) -> None:
    street = Street(yard, 1)
    street.site.plug(0)
    street.go(60)
    site = street.site
    site.change(0, lambda bay: moves.begin(bay, 2, site.now_s))
    site.settle(1)
    rests_s = site.bay(0).promise.live.set_s
    at_rest = site.bay(0)
    for passed_s, drawn_a, done in ((29.0, 0.0, False), (31.0, 4.0, False), (31.0, 0.5, True)):
        now_s = rests_s + passed_s
        measured = replace(at_rest, measured_a=(drawn_a, 0.0, 0.0), measured_s=now_s - 1)
        after = moves.go_on(measured, now_s)
        assert (after.move is None, after.line == 2) == (done, done)
    assert moves.next_s(at_rest) == rests_s + moves.PAUSE_S
    given_up = moves.go_on(at_rest, at_rest.move.since_s + moves.GIVE_UP_S)
    assert (given_up.move, given_up.line) == (None, None)


def test_no_choice_without_the_stations_word_the_installers_leave_or_a_neutral(yard: Make) -> None:
    street = Street(yard, 1)
    street.site.plug(0, lines=1)
    bay = street.site.bay(0)
    assert moves.can_choose(bay, System.TN_400)
    assert moves.choices(bay, System.TN_400, street.site.now_s) == LINES
    assert not moves.can_choose(bay, System.IT_230)
    for chooses in (None, False):
        silent = replace(bay, learned=replace(bay.learned, chooses=chooses))
        assert moves.choices(silent, System.TN_400, street.site.now_s) == ()
    for wiring in (
        replace(bay.wiring, can_choose_line=False),
        replace(bay.wiring, rotation=(L2,)),  # wired to one line: it has that one
    ):
        assert moves.choices(replace(bay, wiring=wiring), System.TN_400, street.site.now_s) == ()
    unknown = replace(bay, charge=replace(bay.charge, lines=None))
    assert moves.choices(unknown, System.TN_400, street.site.now_s) == ()
    street.go(20)
    assert moves.choices(street.site.bay(0), System.TN_400, street.site.now_s) == ()  # it charges


def test_a_station_that_does_not_do_as_it_says_is_not_told_again(yard: Make) -> None:
    street = Street(yard, 2, deaf=frozenset({0, 1}))
    street.site.plug(0, 1)
    street.go(900)
    assert False in [street.site.bay(i).learned.chooses for i in (0, 1)]
    assert street.offers() == [16.0, 16.0]
    assert street.most_a <= 32.0


def test_a_line_that_is_refused_is_left_out(yard: Make) -> None:
    street = Street(yard, 1)
    street.site.plug(0, lines=1)
    street.site.look()
    (named,) = [offer for offer in street.site.queued if offer.line is not None]
    street.site.refuse(named)
    bay = street.site.bay(0)
    assert (bay.learned.chooses, bay.line) == (False, None)
    street.go(40)
    assert street.offers() == [32.0]
    # Refused once it flows, it was not for the line: that stays, as leaving it out may move the car.
    flows = Street(yard, 1)
    flows.site.plug(0, lines=1)
    flows.go(60)
    line = flows.site.bay(0).line
    assert line is not None
    flows.site.change(0, lambda bay: bay.wants(False))
    flows.site.look()
    lowering = next(offer for offer in flows.site.queued if offer.line == line)
    flows.site.change(0, lambda bay: bay.answered(lowering.id, Outcome.REFUSED, flows.site.now_s))
    assert flows.site.bay(0).line == line


@pytest.mark.parametrize(
    ("change", "worth"),
    [
        ({}, True),
        ({"moved_s": 1e9}, False),  # lately moved
        ({"line_a": 32.0 - 17.0}, False),  # the others are no better: 17 A instead of 16 A
    ],
)
def test_only_a_clear_gain_is_worth_a_pause(yard: Make, change: dict[str, float], worth: bool) -> None:
    street = Street(yard, 2)
    street.site.plug(0, 1)
    street.go(660 if not worth else 590)
    site = street.site
    bays = [replace(site.bay(i), moved_s=change.get("moved_s", -1e9), move=None) for i in (0, 1)]
    bays = [replace(bay, turn=replace(bay.turn, running_since_s=site.now_s - 1000)) for bay in bays]
    base_a = {"main": {L2: change.get("line_a", 0.0), L3: change.get("line_a", 0.0)}}
    demands = [
        replace(found, lines=(L1,))
        for bay in bays
        if (found := demand(bay, site.state.network, site.now_s, USUAL)) is not None
    ]

    def share(those: Any) -> Any:
        return allocate(site.state.network, those, base_a=base_a)

    bays = [replace(bay, usage=replace(bay.usage, lines=(True, False, False))) for bay in bays]
    better = moves.find_move(bays, demands, share(demands), share, System.TN_400, site.now_s)
    assert (better is not None) is worth


def test_a_restart_goes_on_naming_the_line(yard: Make) -> None:
    street = Street(yard, 1)
    street.site.plug(0, lines=1)
    street.go(60)
    line = street.site.bay(0).line
    street.site.restart()
    assert street.site.bay(0).line == line is not None


def test_after_a_boot_nobody_knows_the_line(yard: Make) -> None:
    street = Street(yard, 1)
    street.site.plug(0, lines=1)
    street.go(60)
    assert len(street.site.bay(0).lines) == 1
    booted = street.site.bay(0).booted(street.site.now_s)
    assert booted.lines == LINES


def test_chosen_lines_are_kept_for_the_next_start(yard: Make) -> None:
    street = Street(yard, 1, rotation=(L2, L3, L1))
    bay = replace(street.site.bay(0), target_a=16.0)
    key = str(bay.evse)
    assert moves.chosen([bay], {key: L1})[0].line == 3
    assert moves.chosen([bay], {})[0].line is None
    assert moves.chosen([replace(bay, target_a=0.0)], {key: L1})[0].line is None
    assert isinstance(Demand(id=key, circuit="main", lines=LINES).choices, tuple)
