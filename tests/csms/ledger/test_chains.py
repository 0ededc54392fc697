"""A charger's sessions in a row: registers, what lies between, changed meters, overlaps."""

from csms.ledger.chains import chains
from csms.ledger.proof import Chain, registers
from csms.ledger.registers import Measured, SessionRow


def link(
    number: int, started: int, ended: int, start_wh: int, stop_wh: int, *, base: bool = True
) -> tuple[SessionRow, Measured]:
    row = SessionRow(
        id=number,
        station_id="bay",
        evse=1,
        token_id=None,
        token_text="",
        member_id=None,
        known=True,
        started=started,
        ended=ended,
        arrived=ended,
        register_start_wh=start_wh,
        register_stop_wh=stop_wh,
        energy_wh=stop_wh - start_wh,
        marked=not base,
    )
    points = ((started, 0), (ended, stop_wh - start_wh))
    return row, Measured(points=points, base_wh=start_wh if base else None, end=ended)


def one(*links: tuple[SessionRow, Measured], since: int = 0, until: int = 10_000) -> Chain:
    (found,) = chains(links, since, until)
    assert found.sessions_wh + found.between_wh == found.register_wh
    return found


def test_sessions_and_what_lies_between_are_the_registers_rise() -> None:
    found = one(link(1, 0, 100, 1000, 3000), link(2, 200, 300, 3050, 4000))
    assert (found.sessions, found.sessions_wh, found.between_wh, found.register_wh) == (2, 2950, 50, 3000)
    assert (found.swaps, found.overlaps, found.unexplained) == ((), (), ())


def test_the_session_before_the_month_leads_up_to_it() -> None:
    found = one(link(1, 0, 100, 1000, 3000), link(2, 200, 300, 3050, 4000), since=150)
    assert (found.sessions, found.sessions_wh, found.between_wh, found.register_wh) == (1, 950, 50, 1000)


def test_a_session_over_the_edge_counts_whole() -> None:
    found = one(link(1, 0, 200, 1000, 3000), link(2, 250, 300, 3000, 4000), since=100)
    assert (found.sessions, found.register_wh) == (2, 3000)


def test_a_changed_meter_is_marked_and_nothing_is_negative() -> None:
    found = one(link(1, 0, 100, 1000, 3000), link(2, 200, 300, 5, 400), link(3, 400, 500, 400, 900))
    assert (found.register_wh, found.between_wh) == (2895, 0)
    assert len(found.swaps) == 1
    assert "stood at 3000 Wh and at 5 Wh when session 2 began" in found.swaps[0]
    assert not registers([found]).failed


def test_a_meter_that_was_reset_within_a_session_is_marked() -> None:
    found = one(link(1, 0, 100, 0, 1), link(2, 200, 300, 500, 900, base=False), link(3, 400, 500, 10, 30))
    assert found.register_wh == 421
    assert any("within it" in text for text in found.swaps)


def test_overlaps_are_told() -> None:
    found = one(link(1, 0, 300, 1000, 3000), link(2, 200, 400, 3000, 4000))
    assert found.overlaps == ("sessions 1 and 2 overlap on bay/1",)


def test_energy_that_the_registers_do_not_bear_out_is_told() -> None:
    row, _ = link(1, 0, 100, 1000, 3000)
    (found,) = chains([(row, Measured(points=((0, 0), (100, 1900)), base_wh=1000, end=100))], 0, 1000)
    assert found.unexplained == ("session 1: 1900 Wh, but its register rose by 2000 Wh",)
    assert registers([found]).failed
