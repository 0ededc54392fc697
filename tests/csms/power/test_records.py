"""Records of a site become the installation that is steered."""

from datetime import UTC, datetime, time
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from csms.errors import InvalidInput
from csms.power.caps import CapWindow as Window
from csms.power.installation import Evse, Installation, Line
from csms.power.records import installation, meters
from csms.power.sharing.strategies import STRATEGIES, WEIGHTED
from csms.power.sharing.strategy import Fairness as Even
from csms.power.steering.base_load import BuildingMeter, Counts
from csms.sites.model import CapWindow, Circuit, CircuitMeter, Fairness, MeterCounts, Sharing, Site, System
from csms.stations.model import Registration
from csms.stations.record import Evse as EvseRecord
from csms.stations.record import Station

AT = datetime(2026, 11, 2, tzinfo=UTC)


def site(system: System = System.TN_400, **more: Any) -> Site:
    return Site(
        id="yard",
        name="Weavers' Yard",
        time_zone="Europe/Amsterdam",
        currency="EUR",
        system=system,
        active=True,
        created_at=AT,
        **more,
    )


def circuit(id: str, fed_from: str | None = None, **more: object) -> Circuit:
    values: dict[str, object] = {"limit_a": (63.0, 63.0, 63.0), **more}
    return Circuit(id=id, site_id="yard", name=id, fed_from=fed_from, **values)  # type: ignore[arg-type]


def station(id: str, circuit_id: str | None, **more: object) -> Station:
    head = {"id": id, "registration": Registration.ACCEPTED, "created_at": AT, "circuit_id": circuit_id}
    return Station(**{**head, **more})  # type: ignore[arg-type]


def make(*, system: System = System.TN_400, **parts: object) -> Installation:
    parts = {"circuits": [circuit("supply")], "stations": [], "evses": [], **parts}
    return installation(site(system), delta_margin_percent=8, **parts)  # type: ignore[arg-type]


def test_a_limit_of_zero_is_a_line_that_is_not_there() -> None:
    made = make(circuits=[circuit("supply", limit_a=(25.0, 0.0, 0.0), worst_base_a=(4.0, 0.0, 0.0))])
    assert made.circuit("supply").limit_a == {Line.L1: 25.0}
    assert made.circuit("supply").base_a == {Line.L1: 4.0}


def test_wiring_currents_and_every_evse_come_over() -> None:
    bay = station("B1", "supply", wiring=("L2", "L3", "L1"), max_current_a=16.0, step_a=0.1, fallback_a=6.0)
    evses = [EvseRecord(station_id="B1", number=number) for number in (0, 1, 2)]
    made = make(stations=[bay], evses=evses)
    assert [wiring.evse for wiring in made.wirings] == [Evse("B1", 1), Evse("B1", 2)]
    wiring = made.wiring(Evse("B1", 1))
    assert wiring.rotation == (Line.L2, Line.L3, Line.L1)
    assert (wiring.max_current_a, wiring.step_a, wiring.fallback_a) == (16.0, 0.1, 6.0)


def test_a_station_that_has_told_of_no_evse_counts_with_one() -> None:
    assert [wiring.evse for wiring in make(stations=[station("B1", "supply")]).wirings] == [Evse("B1", 1)]


def test_a_station_without_a_place_is_left_out() -> None:
    assert make(stations=[station("B1", None)]).wirings == ()


def test_the_margin_is_for_systems_without_neutral() -> None:
    assert make().delta_margin == 0
    assert make(system=System.IT_230).delta_margin == 0.08


def test_records_that_make_no_tree_name_their_fault() -> None:
    with pytest.raises(InvalidInput, match="there is no circuit 'gone'"):
        make(circuits=[circuit("supply"), circuit("board", fed_from="gone")])


def test_meters_by_their_circuit() -> None:
    measured = circuit("supply", meter=CircuitMeter(MeterCounts.TOTAL, 5.0))
    assert meters([measured, circuit("board", "supply")], stale_at_least_s=45.0) == {
        "supply": BuildingMeter(Counts.TOTAL, 5.0, 45.0)
    }


def test_caps_by_the_hour_go_by_the_sites_clock() -> None:
    window = CapWindow(time(17), time(21), 20_000)
    made = make(circuits=[circuit("supply", cap_windows=(window,))])
    assert made.circuit("supply").cap_windows == (Window(time(17), time(21), 20_000),)
    assert made.zone == ZoneInfo("Europe/Amsterdam")


def test_how_it_is_shared_comes_over() -> None:
    assert (make().strategy, make().fairness) == (WEIGHTED, Even.AMPERES)
    for sharing in Sharing:
        made = installation(
            site(strategy=sharing, fairness=Fairness.KILOWATTS),
            [circuit("supply")],
            [],
            [],
            delta_margin_percent=8,
        )
        assert made.strategy is not None
        assert (made.strategy.name, made.fairness) == (sharing.value, Even.KILOWATTS)
    # What can be chosen of a site is all that there is.
    assert [sharing.value for sharing in Sharing] == [strategy.name for strategy in STRATEGIES]
    assert list(Fairness) == [Fairness(even.value) for even in Even]


def test_only_stations_of_ocpp_2_1_time_how_long_they_are_off_line() -> None:
    stations = [station(name, "supply", protocol=name) for name in ("1.6", "2.0.1", "2.1", "")]
    found = make(stations=stations)
    assert {w.evse.station_id for w in found.wirings if w.times_offline} == {"2.1"}
