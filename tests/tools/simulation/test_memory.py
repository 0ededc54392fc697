"""The light memory says the same as the station of the simulator makes of the product's profiles."""

from datetime import UTC, datetime, timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from csms.power.installation import Evse, Wiring
from csms.power.steering.profile import Offer, Purpose, charging_profile, offer
from csms.stations.model import ProfilePurpose
from tools.simulation.memory import Memory
from tools.simulator.profiles import Kind, Period, Profile, ProfileStore, Running, Unit
from tools.simulator.profiles import Purpose as Kept

WIRING = Wiring(evse=Evse("BAY", 1), circuit="supply", max_current_a=32.0)
START = 1_768_000_000.0
acts = st.lists(
    st.tuples(
        st.sampled_from([*Purpose, "over", "reboot"]),
        st.sampled_from([0.0, 6.0, 10.0, 16.0, 32.0]),
        st.floats(min_value=0.5, max_value=200.0),
    ),
    max_size=12,
)


def as_kept(sent: Offer) -> Profile:
    """The profile that is sent for the offer, in the simulator's own words."""
    profile = charging_profile(sent)
    return Profile(
        id=profile.id,
        purpose=Kept.TX if profile.purpose is ProfilePurpose.TX else Kept.TX_DEFAULT,
        stack_level=profile.stack_level,
        kind=Kind.ABSOLUTE,
        unit=Unit.A,
        periods=tuple(Period(p.start_s, p.limit) for p in profile.periods),
        evse_id=1,
        starts_at=profile.start_at,
        duration_s=profile.duration_s,
        valid_to=profile.valid_to,
        transaction_id=profile.transaction_id,
    )


@given(acts)
@settings(max_examples=200, deadline=None)
def test_it_holds_what_a_station_with_profiles_holds(steps: list[tuple[str, float, float]]) -> None:
    light, real = Memory(32.0), ProfileStore()
    now_s, running = START, True
    for n, (what, current_a, passed_s) in enumerate(steps):
        now_s += passed_s
        if what == "over":
            light.transaction_over()
            real.transaction_over(1)
            running = False
        elif what == "reboot":
            light.reboot()
            real.reboot()
        else:
            sent = offer(n, WIRING, Purpose(what), current_a, now_s, live_valid_s=120.0, transaction="t1")
            taken = light.take(sent, "t1" if running else None)
            assert taken == (running or what is not Purpose.LIVE)
            if taken:
                real.install(as_kept(sent), by_level=True)
        for later_s in (0.0, 119.0, 121.0, 3599.0, 3601.0):
            when = datetime.fromtimestamp(START, UTC) + timedelta(seconds=now_s + later_s - START)
            tx = Running(transaction_id="t1", started_at=when) if running else None
            limit = real.limit(1, when, tx)
            assert light.limit_a(now_s + later_s) == (32.0 if limit is None else limit.current_a)


def test_a_station_that_keeps_nothing_is_at_its_maximum_after_a_reboot() -> None:
    memory = Memory(20.0, keeps=False)
    memory.take(offer(1, WIRING, Purpose.FALLBACK, 6.0, START, live_valid_s=120.0), None)
    assert memory.limit_a(START) == 6.0
    memory.reboot()
    assert memory.limit_a(START) == 20.0
