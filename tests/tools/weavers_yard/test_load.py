"""The mill's base load against what BDEW's household profile is published to be."""

from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from tools.weavers_yard.load import common_parts, household_profile_w
from tools.weavers_yard.site import WEAVERS_YARD

pytest.importorskip("demandlib", reason="the demo's load comes from the optional package demandlib")
ZONE = ZoneInfo(WEAVERS_YARD.time_zone)


def test_a_year_of_the_profile_is_about_1000_kwh() -> None:
    """BDEW's profiles H25 are given for 1,000 kWh a year."""
    year = household_profile_w(date(2026, 1, 1), 365)
    assert len(year) == 35040
    assert sum(year) / 4 / 1000 == pytest.approx(1000, rel=0.01)


def test_a_week_in_january_stays_under_what_the_site_says_is_the_worst() -> None:
    load = common_parts(date(2026, 1, 12), 7, ZONE)
    minutes = [load.currents_a(load.starts_at + timedelta(minutes=n)) for n in range(7 * 1440)]
    highest = [max(lines[line] for lines in minutes) for line in range(3)]
    assert max(highest) <= WEAVERS_YARD.circuits[0].worst_base_a
    assert min(highest) > 8
    mean_w = sum(load.power_w) / len(load.power_w)
    assert 0.9 * 28_800 < mean_w * 8.760 < 1.4 * 28_800  # 48 flats x 600 kWh, and winter is above the mean
    evening, night = load.power_w[19 * 4], load.power_w[3 * 4]
    assert evening > 2 * night


def test_equal_seeds_give_equal_days() -> None:
    assert common_parts(date(2026, 1, 12), 2, ZONE) == common_parts(date(2026, 1, 12), 2, ZONE)
    other = common_parts(date(2026, 1, 12), 2, ZONE, seed=1)
    assert other.appliances != common_parts(date(2026, 1, 12), 2, ZONE).appliances
