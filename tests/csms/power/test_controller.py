"""The edge with small real fakes: stations that answer when told to, a store in memory, a clock by hand."""

import asyncio
from collections.abc import AsyncIterator, Mapping
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta

import pytest

from csms.clock import ManualClock
from csms.errors import InvalidInput, OurFault, StationOffline, StationSilent
from csms.power.caps import CapSignal
from csms.power.controller import SiteController
from csms.power.installation import LINES, Circuit, Evse, Installation, Line, System, Wiring
from csms.power.sharing.demand import Demand
from csms.power.steering.base_load import BuildingMeter
from csms.power.steering.bay import Charge
from csms.power.steering.decision import StopSession
from csms.power.steering.notices import Notice, NoticeKind
from csms.power.steering.picture import BayState, SiteShown
from csms.power.steering.profile import Offer, Purpose
from csms.power.steering.promises import Outcome, StoredOffer

A, B = Evse("bay-a", 1), Evse("bay-b", 1)


class FakeStations:
    """Takes every offer, or what `fate` says for an EVSE; `gate` holds answers back."""

    def __init__(self, log: list[str]) -> None:
        self.log = log
        self.sent: list[Offer] = []
        self.fate: dict[Evse, Outcome | Exception] = {}
        self.stopped: list[StopSession] = []
        self.kept_a: float | None = 0.0
        self.deaf = False
        self.gate = asyncio.Event()
        self.gate.set()

    async def set_offer(self, offer: Offer) -> Outcome:
        self.sent.append(offer)
        self.log.append(f"send {offer.evse.station_id} {offer.purpose} {offer.current_a:g}")
        await self.gate.wait()
        fate = self.fate.get(offer.evse, Outcome.ACCEPTED)
        if isinstance(fate, Exception):
            raise fate
        return fate

    async def read_back(self, evse: Evse) -> float | None:
        self.log.append(f"read back {evse.station_id}")
        if self.deaf:
            raise StationSilent(evse.station_id)
        return self.kept_a

    async def stop_session(self, stop: StopSession) -> None:
        self.stopped.append(stop)

    def live(self) -> list[tuple[str, float]]:
        return [(o.evse.station_id, o.current_a) for o in self.sent if o.purpose is Purpose.LIVE]


class MemoryStore:
    """Keeps what it is told, unless it is `broken`."""

    def __init__(self, log: list[str]) -> None:
        self.log = log
        self.kept: dict[Evse, StoredOffer] = {}
        self.broken = False

    async def load(self, site_id: str) -> Mapping[Evse, StoredOffer]:
        return dict(self.kept)

    async def save(self, site_id: str, offers: Mapping[Evse, StoredOffer]) -> None:
        if self.broken:
            raise OSError("disk full")
        self.kept.update(offers)
        self.log += [f"save {evse.station_id} {offer.promised_a:g}" for evse, offer in offers.items()]


class World:
    """One site with two bays on 32 A, and everything around it."""

    def __init__(self, meter: BuildingMeter | None = None) -> None:
        main = Circuit(id="main", limit_a=dict.fromkeys(LINES, 32.0))
        self.site = Installation(
            system=System.TN_400,
            circuits=(main,),
            wirings=tuple(Wiring(evse=evse, circuit="main", fallback_a=6.0) for evse in (A, B)),
        )
        self.log: list[str] = []
        self.clock = ManualClock(datetime(2026, 1, 5, 18, tzinfo=UTC))
        self.stations = FakeStations(self.log)
        self.store = MemoryStore(self.log)
        self.meters = {"main": meter} if meter else None
        self.heard: list[tuple[frozenset[Notice], SiteShown]] = []
        self.controller = self.make()

    def make(self) -> SiteController:
        return SiteController(
            "yard",
            self.site,
            stations=self.stations,
            store=self.store,
            clock=self.clock,
            meters=self.meters,
            listener=lambda site_id, notices, picture: self.heard.append((notices, picture)),
        )

    def charge(self, evse: Evse) -> None:
        self.controller.charge_started(
            evse, Charge(transaction=f"t-{evse.station_id}", started_s=self.controller.now_s)
        )

    async def let(self, seconds: float) -> None:
        """Let time pass in steps of 0.5 s, and everything run that can."""
        for _ in range(round(seconds * 2)):
            self.clock.advance(0.5)
            await self.idle()

    async def idle(self) -> None:
        for _ in range(30):
            await asyncio.sleep(0)


@asynccontextmanager
async def running(world: World) -> AsyncIterator[World]:
    task = asyncio.ensure_future(world.controller.run())
    await world.idle()
    try:
        yield world
    finally:
        task.cancel()
        await asyncio.gather(task, return_exceptions=True)


async def connected(world: World) -> None:
    world.controller.station_connected("bay-a")
    world.controller.station_connected("bay-b")
    await world.let(2)


async def test_a_promise_is_written_down_before_it_is_sent() -> None:
    async with running(World()) as world:
        await connected(world)
        world.charge(A)
        await world.let(2)
        assert world.stations.live() == [("bay-a", 32.0)]
        assert world.log.index("save bay-a 32") < world.log.index("send bay-a live 32")
        assert world.store.kept[A].fallback_stored is True


async def test_lower_first_then_raise_over_real_tasks() -> None:
    async with running(World()) as world:
        await connected(world)
        world.charge(A)
        await world.let(2)
        world.charge(B)
        await world.let(2)
        assert world.stations.live() == [("bay-a", 32.0), ("bay-a", 16.0)]
        await world.let(6)
        assert world.stations.live()[2:] == [("bay-b", 16.0)]
        shown = {bay.evse: bay for bay in world.controller.picture.bays}
        assert shown[B].state is BayState.CHARGING
        assert (shown[B].offer_a, shown[B].confirmed) == (16.0, True)


async def test_bursts_are_joined_to_one_look_a_second() -> None:
    async with running(World(BuildingMeter())) as world:
        await connected(world)
        await world.let(3)
        before = len(world.heard)
        for _ in range(20):
            for amperes in (1.0, 2.0, 3.0):
                world.controller.building_measured("main", {Line.L1: amperes})
                await world.idle()
            world.clock.advance(0.1)
            await world.idle()
        assert 2 <= len(world.heard) - before <= 3


async def test_a_rise_of_the_building_load_does_not_wait_for_the_second_to_be_over() -> None:
    async with running(World(BuildingMeter())) as world:
        await connected(world)
        world.controller.building_measured("main", dict.fromkeys(LINES, 0.0))
        world.charge(A)
        await world.let(3)
        assert world.stations.live()[-1] == ("bay-a", 32.0)
        world.controller.notify()
        await world.idle()
        world.clock.advance(0.2)  # a look has just been
        await world.idle()
        world.controller.building_measured("main", dict.fromkeys(LINES, 12.0))
        await world.idle()
        world.clock.advance(0.1)
        await world.idle()
        assert world.stations.live()[-1] == ("bay-a", 20.0)


async def test_time_alone_renews_offers_and_looks_again() -> None:
    async with running(World()) as world:
        await connected(world)
        world.charge(A)
        await world.let(2)
        await world.let(45)
        assert world.stations.live() == [("bay-a", 32.0), ("bay-a", 32.0)]


async def test_a_slow_station_holds_up_nobody_else() -> None:
    async with running(World()) as world:
        await connected(world)
        world.stations.gate.clear()
        world.charge(A)
        await world.let(2)
        looks = len(world.heard)
        await world.let(30)
        assert len(world.heard) > looks
        assert world.stations.live() == [("bay-a", 32.0)]
        shown = next(bay for bay in world.controller.picture.bays if bay.evse == A)
        assert not shown.confirmed


@pytest.mark.parametrize(
    ("fate", "counts_a"),
    [
        (Outcome.REFUSED, 0.0),
        (StationOffline("bay-a"), 0.0),
        (Outcome.UNANSWERED, 32.0),
        (StationSilent("bay-a"), 32.0),
        (RuntimeError("a bug on the way"), 32.0),
    ],
    ids=["refused", "offline", "unanswered", "silent", "bug"],
)
async def test_what_becomes_of_a_raise(fate: Outcome | Exception, counts_a: float) -> None:
    async with running(World()) as world:
        await connected(world)
        world.stations.fate[A] = fate
        world.charge(A)
        await world.let(2)
        shown = next(bay for bay in world.controller.picture.bays if bay.evse == A)
        assert shown.counts_a == counts_a


async def test_a_station_that_keeps_refusing_to_lower_has_its_session_stopped() -> None:
    async with running(World()) as world:
        await connected(world)
        world.charge(A)
        await world.let(2)
        world.stations.fate[A] = Outcome.REFUSED
        world.charge(B)
        await world.let(70)
        assert world.stations.stopped == [StopSession(A, "t-bay-a")]
        assert ("bay-b", 16.0) not in world.stations.live()


async def test_without_a_store_nothing_is_raised_but_lowerings_go_out() -> None:
    async with running(World()) as world:
        await connected(world)
        world.charge(A)
        await world.let(2)
        world.store.broken = True
        world.charge(B)
        await world.let(12)
        assert world.stations.live() == [("bay-a", 32.0), ("bay-a", 16.0)]
        world.store.broken = False
        await world.let(12)
        assert world.stations.live()[2:] == [("bay-b", 16.0)]


async def test_a_restart_takes_over_what_was_promised() -> None:
    world = World()
    async with running(world):
        await connected(world)
        world.charge(A)
        await world.let(2)
    world.controller = world.make()
    await world.controller.load()
    assert {bay.evse: bay.counts_a for bay in world.controller.picture.bays} == {A: 32.0, B: 0.0}
    world.charge(A)
    async with running(world):
        world.controller.station_connected("bay-b")
        world.charge(B)
        await world.let(5)
        assert world.stations.live() == [("bay-a", 32.0), ("bay-b", 0.0)]
        world.controller.station_connected("bay-a")
        await world.let(10)
        assert world.stations.live()[2:] == [("bay-a", 16.0), ("bay-b", 16.0)]


async def test_events_reach_their_bay_and_no_other() -> None:
    world = World()
    controller = world.controller
    controller.station_connected("bay-a")
    world.charge(A)
    controller.car_measured(A, "t-bay-a", (7.0, 0.0, 0.0), controller.now_s + 100, 1200.0)
    controller.car_wants(A, "t-bay-a", False)
    bay, other = controller.state.bays[A], controller.state.bays[B]
    assert bay.charge is not None
    assert (bay.charge.energy_wh, bay.charge.wants, bay.measured_a) == (1200.0, False, (7.0, 0.0, 0.0))
    assert bay.measured_s == controller.now_s  # a station's clock that is ahead is not believed
    assert (other.charge, other.promise.reachable) == (None, False)
    controller.charge_ended(A, "another")
    assert controller.state.bays[A].charge is not None
    controller.charge_ended(A, "t-bay-a")
    assert controller.state.bays[A].charge is None
    controller.charge_started(Evse("elsewhere", 1), Charge(transaction="x", started_s=0.0))
    assert set(controller.state.bays) == {A, B}
    controller.station_lost("bay-a")
    assert not controller.state.bays[A].promise.reachable
    controller.station_booted("bay-a")
    assert controller.state.bays[A].promise.reachable


async def test_a_cap_from_outside_is_kept_at_once_and_can_be_taken_back() -> None:
    world = World()
    await connected(world)
    world.charge(A)
    async with running(world):
        await world.let(60)
        assert world.controller.state.bays[A].promise.offered(world.controller.now_s) == 32.0
        until = world.clock.now() + timedelta(hours=1)
        world.controller.caps_signalled({"main": (CapSignal(4_200.0, until),)})
        await world.let(3)
        assert world.controller.state.bays[A].promise.offered(world.controller.now_s) == 6.0
        world.controller.caps_signalled({})
        await world.let(60)
        assert world.controller.state.bays[A].promise.offered(world.controller.now_s) == 32.0


async def test_a_reading_of_a_meter_that_is_not_there_is_refused() -> None:
    with pytest.raises(InvalidInput, match="'main' has no building meter"):
        World().controller.building_measured("main", {Line.L1: 5.0})


@pytest.mark.parametrize(
    "fault", [OurFault("the certificate does not hold"), OverflowError("cannot convert float infinity")]
)
async def test_a_fault_of_the_decision_sends_nothing_and_is_tried_again(
    monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture, fault: Exception
) -> None:
    def unfair(*args: object, **more: object) -> list[Demand]:
        raise fault

    async with running(World()) as world:
        await connected(world)
        with monkeypatch.context() as patch:
            patch.setattr("csms.power.sharing.allocator.check_fairness", unfair)
            world.charge(A)
            await world.let(3)
            assert world.stations.live() == []
            assert "cannot be shared" in caplog.text
        await world.let(3)
        assert world.stations.live() == [("bay-a", 32.0)]


async def test_after_a_boot_it_is_read_back_what_was_kept_before_it_is_stored_again() -> None:
    async with running(World()) as world:
        await connected(world)
        await world.let(2)
        world.log.clear()
        world.controller.station_booted("bay-a")
        await world.let(3)
        stored = "send bay-a fallback 6"
        assert world.log.index("read back bay-a") < world.log.index(stored)
        shown = next(bay for bay in world.controller.picture.bays if bay.evse == A)
        assert (shown.kept_after_boot, shown.safe_in_silence, shown.counts_a) == (True, True, 0.0)


@pytest.mark.parametrize("silent", [True, False], ids=["silent", "unknown"])
async def test_a_station_that_does_not_say_what_it_kept_is_stored_anew(silent: bool) -> None:
    async with running(World()) as world:
        await connected(world)
        await world.let(2)
        world.stations.kept_a = None
        world.stations.deaf = silent
        world.controller.station_booted("bay-a")
        await world.let(3)
        shown = next(bay for bay in world.controller.picture.bays if bay.evse == A)
        assert (shown.kept_after_boot, shown.safe_in_silence) == (None, True)


async def test_a_station_that_forgot_counts_in_full_and_that_outlives_us() -> None:
    world = World()
    async with running(world):
        await connected(world)
        await world.let(2)
        world.stations.kept_a = 32.0
        world.controller.station_booted("bay-a")
        await world.let(3)
        shown = next(bay for bay in world.controller.picture.bays if bay.evse == A)
        assert (shown.kept_after_boot, shown.safe_in_silence, shown.counts_a) == (False, False, 32.0)
        assert {n.kind for n in world.controller.notices} >= {NoticeKind.FORGETS_LIMITS}
    assert world.store.kept[A].kept is False
    world.controller = world.make()
    await world.controller.load()
    assert next(bay for bay in world.controller.picture.bays if bay.evse == A).counts_a == 32.0


async def test_a_new_controller_goes_on_where_the_old_one_stopped() -> None:
    world = World()
    async with running(world):
        await connected(world)
        world.charge(A)
        await world.let(2)
        world.controller.car_measured(A, "t-bay-a", (9.0, 9.0, 9.0), world.controller.now_s)
        old = world.controller
    world.controller = world.make()
    await world.controller.load()
    world.controller.take_over(old.state)
    before, after = old.state.bays[A], world.controller.state.bays[A]
    assert (after.charge, after.turn, after.measured_a) == (before.charge, before.turn, before.measured_a)
    assert world.controller.state.picture_full
    async with running(world):
        await world.let(20)
    # Nothing is sent again but what has to be renewed.
    assert world.stations.live() == [("bay-a", 32.0)]


async def test_a_message_of_another_transaction_changes_nothing() -> None:
    world = World()
    world.controller.station_connected("bay-a")
    world.charge(A)
    world.controller.car_wants(A, "t-old", False)
    world.controller.car_measured(A, "t-old", (7.0, 7.0, 7.0), world.controller.now_s)
    bay = world.controller.state.bays[A]
    assert bay.charge is not None
    assert (bay.charge.wants, bay.measured_a) == (True, (None, None, None))


async def test_a_stations_clock_that_is_behind_is_seen_by_its_messages_and_its_offers_follow() -> None:
    async with running(World()) as world:
        await connected(world)
        for _ in range(6):
            off = world.controller.station_told_time("bay-a", world.controller.now_s - 300.0)
            await world.let(10)
        assert off == pytest.approx(300.0)
        assert world.controller.station_told_time("elsewhere", 0.0) == 0.0
        world.charge(A)
        await world.let(2)
        assert world.stations.sent[-1].clock_off_s == pytest.approx(300.0)
        assert NoticeKind.CLOCK_OFF in {n.kind for n in world.controller.notices}
