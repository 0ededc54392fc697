from dataclasses import replace

from csms.power.installation import Evse, Line, Wiring
from csms.power.steering.bay import SKEW_FRESH_S, Bay, Charge, new_bay
from csms.power.steering.clock_offset import ClockOffset
from csms.power.steering.conditions import conditions
from csms.power.steering.derating import Derating
from csms.power.steering.learned import Learned
from csms.power.steering.notices import Notice, NoticeKind
from csms.power.steering.profile import Purpose, offer
from csms.power.steering.promises import Outcome
from csms.power.steering.waking import Waking

NOW = 1000.0
EVSE = Evse("bay", 1)


def charging() -> Bay:
    bay = new_bay(Wiring(evse=EVSE, circuit="main")).connected()
    bay = bay.started(Charge(transaction="t", started_s=NOW), NOW)
    sent = offer(1, bay.wiring, Purpose.LIVE, 16.0, NOW, live_valid_s=120.0, transaction="t")
    return replace(bay, promise=bay.promise.ask(sent)).answered(1, Outcome.ACCEPTED, NOW)


def kinds(bay: Bay, below_total: bool = False, now_s: float = NOW) -> set[NoticeKind]:
    found = conditions([bay], [], {"main"} if below_total else set(), now_s)
    assert all(notice.evse == EVSE for notice in found)
    return {notice.kind for notice in found}


def test_a_bay_in_order_has_none() -> None:
    assert kinds(charging()) == set()


def test_each_condition_has_its_notice() -> None:
    bay = charging()
    clock = ClockOffset(tuple((NOW + 10 * i, 30.0) for i in range(5)))
    pace = bay.pace
    for changed, kind in (
        (replace(bay, pace=replace(pace, refused_since_s=NOW)), NoticeKind.LOWERING_REFUSED),
        (replace(bay, promise=replace(bay.promise, overdraw_a=20.0)), NoticeKind.OFFER_IGNORED),
        (replace(bay, pace=replace(pace, tried={Purpose.FALLBACK: NOW})), NoticeKind.FALLBACK_NOT_STORED),
        (replace(bay, learned=Learned(kept=False)), NoticeKind.FORGETS_LIMITS),
        (replace(bay, learned=Learned(zero=False)), NoticeKind.CANNOT_PAUSE),
        (replace(bay, waking=Waking(asleep=True)), NoticeKind.CAR_ASLEEP),
        (replace(bay, derating=Derating(10.0, NOW)), NoticeKind.DERATED),
        (replace(bay, clock=clock), NoticeKind.CLOCK_OFF),
    ):
        assert kinds(changed) == {kind}


def test_slow_samples_matter_only_where_a_meter_counts_the_cars_too() -> None:
    bay, later = replace(charging(), pace=replace(charging().pace, changed_s=NOW)), NOW + SKEW_FRESH_S + 1
    assert kinds(bay, True, later) == {NoticeKind.SAMPLES_TOO_SLOW}
    assert kinds(bay, False, later) == set()
    assert kinds(bay, True, later - 2) == set()
    assert kinds(bay.measured((16.0, 16.0, 16.0), later - 5), True, later) == set()
    assert kinds(bay.lost(later), True, later) == set()


def test_a_line_over_its_limit_is_told() -> None:
    assert conditions([], [("main", Line.L2)], set(), NOW) == {
        Notice(NoticeKind.OVER_LIMIT, None, "main", Line.L2)
    }
