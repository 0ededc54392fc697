"""Where rights hold."""

from datetime import UTC, datetime

from csms.access.rights.right import Place, Right, covers

AT = datetime(2026, 1, 1, tzinfo=UTC)
BAY = Place("YARD-01", "weavers-yard", ("courtyard", "supply"))
VAN_BAY = Place("VAN-01", "weavers-yard", ("bakery", "supply"))
UNPLACED = Place("NEW-01")


def test_a_station_s_right_holds_there_only() -> None:
    right = Right(id="r", site_id="weavers-yard", station_id="YARD-01", created_at=AT)
    assert [covers(right, place) for place in (BAY, VAN_BAY, UNPLACED)] == [True, False, False]


def test_a_circuit_s_right_holds_below_it() -> None:
    board = Right(id="r", site_id="weavers-yard", circuit_id="bakery", created_at=AT)
    supply = Right(id="r", site_id="weavers-yard", circuit_id="supply", created_at=AT)
    assert [covers(board, place) for place in (BAY, VAN_BAY, UNPLACED)] == [False, True, False]
    assert [covers(supply, place) for place in (BAY, VAN_BAY, UNPLACED)] == [True, True, False]


def test_a_site_s_right_holds_on_all_of_it() -> None:
    right = Right(id="r", site_id="weavers-yard", created_at=AT)
    assert [covers(right, place) for place in (BAY, VAN_BAY, UNPLACED)] == [True, True, False]
    assert not covers(Right(id="r", site_id="mill", created_at=AT), BAY)


def test_nobody_named_is_everyone() -> None:
    assert Right(id="r", site_id="weavers-yard", created_at=AT).for_everyone
    assert not Right(id="r", site_id="weavers-yard", member_id="flat-12", created_at=AT).for_everyone
