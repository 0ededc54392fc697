"""What the page Site says, as values."""

from dataclasses import replace
from datetime import UTC, datetime
from types import SimpleNamespace
from typing import Any, cast

import pytest

from api.web import site_view
from api.web.site_view import LineGauge
from csms.power.caps import CapSignal
from csms.power.installation import Evse as PowerEvse
from csms.power.installation import Line
from csms.power.sharing.demand import Bound, BoundKind
from csms.power.steering.picture import BayShown, BayState, CircuitShown, SiteShown
from csms.sessions.session import Session
from csms.sites.model import Circuit
from csms.stations.model import EvseStatus, Registration
from csms.stations.record import Evse, Station

NOW = datetime(2026, 11, 2, 11, 0, tzinfo=UTC)
L1, L2, L3 = Line.L1, Line.L2, Line.L3
NAMES = {"main": "Supply", "flat-2": "Flat 2"}
FULL = Bound(BoundKind.CIRCUIT_LINE, "main", L2)


def circuit(id: str, name: str, fed_from: str | None = None, limit_a: Any = (63.0, 63.0, 63.0)) -> Circuit:
    """Only what the page looks at."""
    return cast(Circuit, SimpleNamespace(id=id, name=name, fed_from=fed_from, limit_a=limit_a))


def shown(bays: tuple[BayShown, ...] = (), *, base_a: float = 10.0, fresh: bool | None = True) -> SiteShown:
    line_a = dict.fromkeys((L1, L2, L3), 0.0)
    main = CircuitShown(
        id="main",
        limit_a=line_a | dict.fromkeys(line_a, 63.0),
        base_a=dict.fromkeys(line_a, base_a),
        drawn_a={L1: 21.5, L2: 53.1, L3: 0.0},
        promised_a=line_a,
        meter_fresh=fresh,
    )
    return SiteShown(0.0, (main,), bays, True)


def station(id: str = "bay-1", *, connected: bool = True) -> Station:
    return Station(
        id=id, name="Bay 1", registration=Registration.ACCEPTED, created_at=NOW, connected=connected
    )


BAY = BayShown(
    evse=PowerEvse("bay-1", 1),
    state=BayState.CHARGING,
    offer_a=8.25,
    confirmed=True,
    target_a=8.25,
    counts_a=8.25,
    measured_a=8.04,
    lines=(L3, L1, L2),
    why=FULL,
    waiting_since_s=None,
    safe_in_silence=True,
)
SESSION = Session(
    station_id="bay-1", evse=1, member_id="flat-2", started_at=NOW, arrived_at=NOW, energy_wh=1234
)


def row(
    bay: BayShown | None = BAY,
    session: Session | None = SESSION,
    *,
    connected: bool = True,
    evse: Evse | None = None,
    refusals: dict[tuple[str, int], str] | None = None,
) -> site_view.BayRow:
    (found,) = site_view.bay_rows(
        [station(connected=connected)],
        [evse] if evse else [],
        shown((bay,) if bay else ()),
        [session] if session else [],
        NAMES,
        refusals or {},
    )
    return found


def test_circuits_stand_as_they_feed_each_other_with_what_flows() -> None:
    tree = site_view.tree(
        [circuit("b", "Board 10", "main"), circuit("main", "Supply"), circuit("a", "Board 2", "main")],
        shown(),
    )
    (supply,) = tree
    assert [node.name for node in supply.feeds] == ["Board 2", "Board 10"]
    assert supply.meter == "building meter live"
    first = supply.gauges[0]
    assert first == LineGauge("L1", 10.0, 21.5, 63.0, first.base_percent, first.cars_percent, over=False)
    assert (first.base_percent, first.cars_percent) == pytest.approx((1000 / 63, 2150 / 63))
    over = supply.gauges[1]
    assert over.over, "63.1 A of 63 A"
    assert over.base_percent + over.cars_percent == pytest.approx(100), "the bar stays in its frame"


def test_a_line_that_is_not_there_has_no_gauge_and_a_silent_meter_says_what_is_assumed() -> None:
    (supply,) = site_view.tree([circuit("main", "Supply", limit_a=(63.0, 0.0, 0.0))], shown(fresh=False))
    assert [gauge.name for gauge in supply.gauges] == ["L1"]
    assert supply.meter == "building meter silent, worst case assumed"
    assert site_view.tree([circuit("main", "Supply")], None)[0].meter == ""


def test_a_bay_that_charges() -> None:
    assert row() == site_view.BayRow(
        name="Bay 1",
        tone="good",
        state="charging",
        who="Flat 2",
        lines="L1 to L3",
        offer="8.2 A",
        drawn="8.0 A",
        energy="1.23 kWh",
        why="Supply L2 is full",
    )
    assert row(replace(BAY, lines=(L3, L1))).lines == "L1 L3"


def test_what_is_odd_about_a_charger_stands_beside_why_it_gives_no_more() -> None:
    odd = replace(BAY, keeps=False, rating_a=32.0)
    assert row(odd).remarks == ("keeps no limit: counted at its full rating of 32 A",)
    (found,) = site_view.bay_rows(
        [station()], [], shown((odd,)), [SESSION], NAMES, {}, {"bay-1": "tells currents every 60 s"}
    )
    assert found.remarks[1:] == ("tells currents every 60 s",)


def test_less_power_asked_for_from_outside_is_the_reason_with_its_end() -> None:
    picture = shown((replace(BAY, why=Bound(BoundKind.CAP, "main")),))
    asked = CapSignal(4_200.0, datetime(2026, 11, 2, 16, 0, tzinfo=UTC), reason="grid operator")
    capped = replace(picture.circuits[0], cap_w=4_200.0, asked=asked)
    picture = replace(picture, circuits=(capped, *picture.circuits[1:]))
    (supply,) = site_view.tree([circuit("main", "Supply")], picture, "Europe/Oslo")
    assert supply.cap == "at most 4.2 kW until 02 Nov 17:00: grid operator"
    (found,) = site_view.bay_rows([station()], [], picture, [SESSION], NAMES, {})
    assert found.why == "Supply is at its power limit of 4.2 kW"
    waits = Bound(BoundKind.WAITING, "main")
    assert site_view.reason(waits, NAMES, {"main": 4_200.0}) == (
        "waits: Supply is at its power limit of 4.2 kW"
    )


def test_a_bay_that_waits_says_for_what() -> None:
    waits = replace(BAY, state=BayState.WAITING, offer_a=None, measured_a=None)
    told = row(replace(waits, why=Bound(BoundKind.WAITING, "main", L2)))
    assert (told.tone, told.state, told.offer, told.drawn) == ("wait", "waiting", "", "")
    assert told.why == "waits for its turn: Supply L2 has no room for 6 A more"


@pytest.mark.parametrize("kind", list(BoundKind))
def test_every_reason_has_words(kind: BoundKind) -> None:
    assert len(site_view.reason(Bound(kind, "main", L1), NAMES)) > 8


@pytest.mark.parametrize("state", list(BayState))
def test_every_state_has_words_and_a_tone(state: BayState) -> None:
    tone, words = site_view.STATES[state]
    assert tone in ("good", "wait", "bad", "idle")
    assert words


def test_what_is_not_connected_says_so_whatever_was_known() -> None:
    assert (row(connected=False).tone, row(connected=False).state) == ("bad", "not connected")


def test_a_refused_card_is_told_where_a_car_is_plugged_in_without_a_session() -> None:
    evse = Evse(station_id="bay-1", number=1, status=EvseStatus.PREPARING)
    assert row(None, None, evse=evse).state == "plugged in, no card yet"
    refused = row(None, None, evse=evse, refusals={("bay-1", 1): "Token 04AB has no right at bay-1"})
    assert (refused.tone, refused.state) == ("bad", "card refused")
    assert refused.why == "Token 04AB has no right at Bay 1"
    assert row(refusals={("bay-1", 1): "of before"}).state == "charging"


def test_a_bay_without_a_car_is_free_and_empty() -> None:
    free = row(None, None, evse=Evse(station_id="bay-1", number=1, status=EvseStatus.AVAILABLE))
    assert (free.tone, free.state) == ("idle", "free")
    assert (free.who, free.lines, free.offer, free.drawn, free.energy, free.why) == ("",) * 6


def test_the_totals_count_what_the_rows_say() -> None:
    rows = (row(), row(replace(BAY, state=BayState.WAITING)), row(None, None))
    stations = [station(), station("bay-2", connected=False)]
    assert site_view.totals(stations, rows) == site_view.Totals(1, 1, 1, 2)
