"""The table of an upgrade's steps."""

import pytest

from csms.errors import Conflict
from csms.security.upgrade import TRANSITIONS, UNDER_WAY, Means, Outcome, Step, check, first, follow
from csms.stations.security.profile import Profile, Standing

READY = Means(has_key=True, connected=True, doors=frozenset(Profile) - {Profile.OPEN})


def walk(wanted: Profile) -> list[Step]:
    step = first(wanted)
    steps = [step]
    while step is not Step.WAITING:
        step = follow(step, Outcome.DONE, wanted)
        steps.append(step)
    return steps


def test_each_profile_has_its_way() -> None:
    assert walk(Profile.KEY) == [Step.SWITCH, Step.WAITING]
    assert walk(Profile.KEY_OVER_TLS) == [Step.ROOT, Step.SWITCH, Step.WAITING]
    assert walk(Profile.CERTIFICATE) == [Step.ROOT, Step.CERTIFICATE, Step.SWITCH, Step.WAITING]


def test_every_step_has_every_outcome() -> None:
    for step in (Step.ROOT, Step.CERTIFICATE, Step.SWITCH):
        for outcome in Outcome:
            assert (step, outcome) in TRANSITIONS
    assert follow(Step.SWITCH, Outcome.SILENT, Profile.CERTIFICATE) is Step.WAITING, "it may have switched"
    assert follow(Step.ROOT, Outcome.SILENT, Profile.CERTIFICATE) in UNDER_WAY
    assert follow(Step.ROOT, Outcome.REFUSED, Profile.CERTIFICATE) not in UNDER_WAY


@pytest.mark.parametrize(
    ("standing", "wanted", "means", "says"),
    [
        (Standing(Profile.KEY_OVER_TLS), Profile.KEY_OVER_TLS, READY, "only a higher one"),
        (Standing(), Profile.OPEN, READY, "no door"),
        (Standing(), Profile.CERTIFICATE, Means(has_key=True, connected=True, doors=frozenset()), "no door"),
        (
            Standing(),
            Profile.KEY_OVER_TLS,
            Means(has_key=False, connected=True, doors=READY.doors),
            "needs a key",
        ),
        (
            Standing(),
            Profile.CERTIFICATE,
            Means(has_key=False, connected=False, doors=READY.doors),
            "not connected",
        ),
    ],
)
def test_what_cannot_begin_says_why(standing: Standing, wanted: Profile, means: Means, says: str) -> None:
    with pytest.raises(Conflict, match=says):
        check(standing, wanted, means)


def test_a_station_with_nothing_can_get_a_certificate() -> None:
    check(Standing(), Profile.CERTIFICATE, Means(has_key=False, connected=True, doors=READY.doors))
