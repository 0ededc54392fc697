"""Who may come by which door: every case. (OCPP 2.0.1 A05.FR.09: no way back down.)"""

import itertools

import pytest

from csms.stations.security.profile import Profile, Standing, Way, enter, profile_of


@pytest.mark.parametrize(
    ("way", "has_key", "profile"),
    [
        (Way.PLAIN, False, Profile.OPEN),
        (Way.PLAIN, True, Profile.KEY),
        (Way.TLS, True, Profile.KEY_OVER_TLS),
        (Way.MUTUAL, False, Profile.CERTIFICATE),
        (Way.MUTUAL, True, Profile.CERTIFICATE),
    ],
)
def test_a_door_is_a_profile(way: Way, has_key: bool, profile: Profile) -> None:
    assert profile_of(way, has_key=has_key) is profile


NEWS = {
    *((None, profile) for profile in (Profile.KEY_OVER_TLS, Profile.CERTIFICATE)),
    *((lower, higher) for lower in Profile for higher in Profile if higher > lower),
}
"""What has been reached, and what is higher than that. A first visit without TLS reaches nothing."""


@pytest.mark.parametrize(("in_use", "way"), list(itertools.product([None, *Profile], Way)))
def test_up_but_never_down(in_use: Profile | None, way: Way) -> None:
    entry = enter(Standing(in_use), way, has_key=True)
    lower = in_use is not None and entry.profile < in_use
    assert bool(entry.refusal) is lower
    if not lower:
        assert entry.news is ((in_use, entry.profile) in NEWS)


def test_tls_without_a_key_is_no_profile() -> None:
    assert "no key" in enter(Standing(), Way.TLS, has_key=False).refusal


def test_during_an_upgrade_both_ways_are_open() -> None:
    standing = Standing(Profile.KEY, wanted=Profile.KEY_OVER_TLS)
    assert enter(standing, Way.PLAIN, has_key=True).refusal == ""
    assert enter(standing, Way.TLS, has_key=True).news
