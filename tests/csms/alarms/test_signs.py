"""Signs are values: the same words mean the same."""

from csms.alarms.kinds import KINDS
from csms.alarms.rules.presence import OF_A_STATION
from csms.alarms.signs import Begun, Over


def test_signs_compare_by_value() -> None:
    assert Begun(kind="lock", thing="YARD-01/1") == Begun(kind="lock", thing="YARD-01/1")
    assert Over(frozenset({"lock"}), "YARD-01/1") != Over(frozenset({"lock"}), "YARD-01/2")


def test_a_deleted_station_ends_every_kind() -> None:
    assert set(KINDS) == OF_A_STATION
