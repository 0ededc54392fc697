"""Running sessions as they are kept in memory, so that a reading costs no query.

Everything here is made from the database when a station is first heard of, or after something
went wrong, and can be thrown away at any time.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime

from csms.metering.series import Meter, Point, Source, in_order
from csms.sessions.intake import named
from csms.sessions.news import SessionNews
from csms.sessions.session import Mark, Session, State
from csms.stations.model import ChargingState, Reading, ReadingContext


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a running session is after its latest reading."""

    meter: Meter
    newest_at: datetime
    last_sequence: int | None


@dataclass(slots=True)
class Live:
    """One running session. `whole`: no message of it is missing, as far as numbers tell."""

    session_id: int
    station_id: str
    evse: int | None
    transaction_id: str
    started_at: datetime
    state: State
    charging: ChargingState
    member_id: str | None
    has_token: bool
    whole: bool
    max_power_w: float
    standing: Standing

    def after(self, readings: Sequence[Reading], sequence: int | None) -> Standing | None:
        """Where the session is after new readings; None when they need a closer look.

        They do when they are not newer than what is there, when something about them is odd, or
        when a number is missing: the way through the database sorts that out.
        """
        standing = self.standing
        last_sequence = standing.last_sequence
        if sequence is not None:
            if not self.whole or (last_sequence is not None and sequence != last_sequence + 1):
                return None
            last_sequence = sequence
        newest_at = standing.newest_at
        points: list[Point] = []
        for reading in readings:
            if reading.at <= standing.newest_at or reading.context is ReadingContext.END:
                return None
            newest_at = max(newest_at, reading.at)
            if reading.register_wh is not None:
                points.append(Point(reading.at, reading.register_wh, Source.SAMPLE))
        meter = standing.meter
        if len(points) > 1:
            points = in_order(points)
        for point in points:
            meter = meter.step(point, self.max_power_w)
        if meter.flags is not standing.meter.flags and meter.flags != standing.meter.flags:
            return None
        if self.seems_to_start(readings):
            return None
        return Standing(meter, newest_at, last_sequence)

    def seems_to_start(self, readings: Sequence[Reading]) -> bool:
        """Whether energy flows in a session of which nothing was said yet: some stations never do."""
        if self.charging is not ChargingState.IDLE:
            return False
        last_wh = self.standing.meter.last_wh
        return any(
            (reading.power_w is not None and reading.power_w >= FLOWING_W)
            or (last_wh is not None and reading.register_wh is not None and reading.register_wh > last_wh)
            for reading in readings
        )

    def news(self, reading: Reading | None = None, began: bool = False) -> SessionNews:
        return SessionNews(
            self.session_id,
            self.station_id,
            self.evse,
            self.transaction_id,
            self.state,
            self.charging,
            self.standing.meter.energy_wh,
            self.member_id,
            reading,
            began,
        )


FLOWING_W = 100.0
"""Power from which a car counts as charging; below it is its own standby."""


@dataclass(slots=True)
class LiveStation:
    """The running sessions of one station."""

    by_transaction: dict[str, Live] = field(default_factory=dict)

    def put(self, live: Live) -> None:
        self.drop(live.session_id)
        self.by_transaction[live.transaction_id] = live

    def drop(self, session_id: int) -> None:
        for transaction_id, live in list(self.by_transaction.items()):
            if live.session_id == session_id:
                del self.by_transaction[transaction_id]

    def at_evse(self, evse: int | None) -> Live | None:
        """The one session that runs there; None when there is none, or more than one.

        An unknown EVSE is the only one in use.
        """
        there = [
            live
            for live in self.by_transaction.values()
            if evse is None or live.evse is None or live.evse == evse
        ]
        return there[0] if len(there) == 1 else None

    def owner(self, transaction_id: str | None, evse: int | None, since: datetime) -> Live | None:
        """The session that readings from `since` on belong to, if it is running and beyond doubt.

        By the id, else by the EVSE. EVSE 0 is the station's main meter, unless the station made up
        an id: then it may be one that knows no better.
        """
        if transaction_id is not None:
            live = self.by_transaction.get(transaction_id)
            if live is not None or named(transaction_id):
                return live
        elif evse == 0:
            return None
        live = self.at_evse(evse or None)
        return live if live is not None and live.started_at <= since else None


def live_of(session: Session, meter: Meter, newest_at: datetime | None, max_power_w: float) -> Live:
    """A running session as it is kept in memory."""
    suspect_at = None if meter.suspect is None else meter.suspect.at
    newest = [at for at in (newest_at, meter.last_at, suspect_at) if at is not None]
    return Live(
        session_id=session.id,
        station_id=session.station_id,
        evse=session.evse,
        transaction_id=session.transaction_id or str(session.id),
        started_at=session.started_at,
        state=session.state,
        charging=session.charging,
        member_id=session.member_id,
        has_token=bool(session.verdict),
        whole=Mark.SEQUENCE_GAP not in session.marks and session.start_seen,
        max_power_w=max_power_w,
        standing=Standing(meter, max(newest, default=session.started_at), session.last_sequence),
    )
