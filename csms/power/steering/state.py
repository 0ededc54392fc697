"""All that is known of one site while it is steered: a value, made anew with everything that happens."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, datetime

from csms.power.caps import CapSignal, Signals
from csms.power.installation import Evse, Installation, Line
from csms.power.sharing.currents import Network
from csms.power.steering.base_load import BuildingMeter, BuildingReading, Counts, base_load
from csms.power.steering.bay import Bay, new_bay
from csms.power.steering.calm import Calm
from csms.power.steering.planned import SitePlan
from csms.power.steering.promises import StoredOffer
from csms.power.steering.timing import USUAL, Timing


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteState:
    """All that a step needs. `picture_full`: every station was heard of, or its offers have lapsed.

    `network` has the caps of the hour; `signals`: caps from outside, by circuit, that end by themselves.
    `plan`: what cars may have by the hour, if somebody plans. `calm`: the base load of the last minute.
    `settled_s`: until when the turns are settled. `moves_s`: when it was last looked whether a car were
    better on another line.
    """

    network: Network
    bays: Mapping[Evse, Bay]
    timing: Timing = USUAL
    meters: Mapping[str, BuildingMeter] = field(default_factory=dict)
    readings: Mapping[str, BuildingReading] = field(default_factory=dict)
    signals: Signals = field(default_factory=dict)
    calm: Calm = field(default_factory=Calm)
    plan: SitePlan | None = None
    settled_s: float | None = None
    moves_s: float = 0.0
    next_id: int = 1
    picture_full: bool = False

    def with_bay(self, bay: Bay) -> "SiteState":
        return replace(self, bays={**self.bays, bay.evse: bay})

    def at(self, now_s: float) -> "SiteState":
        """This state with the caps in force at `now_s`."""
        network = self.network.at(_instant(now_s), self.signals)
        return self if network is self.network else replace(self, network=network)

    def asked(self, now_s: float) -> dict[str, CapSignal]:
        """The lowest cap from outside that is in force, of each circuit that has one."""
        if not self.signals:
            return {}
        caps, now = self.network.caps(self.signals), _instant(now_s)
        found = {circuit: caps.signal_in_force(circuit, now) for circuit in self.signals}
        return {circuit: signal for circuit, signal in found.items() if signal is not None}

    def caps_change_s(self, now_s: float) -> float | None:
        """When other caps may next be in force; None: never."""
        change = self.network.caps(self.signals).next_change(_instant(now_s))
        return None if change is None else change.timestamp()

    def drawn_a(self, now_s: float) -> dict[str, dict[Line, float]]:
        """A per circuit and line that our cars below are known to draw."""
        return self._summed({bay.evse: bay.drawn_a(now_s) for bay in self.bays.values()})

    def base_a(self, now_s: float) -> dict[str, dict[Line, float]]:
        """Base load of each circuit itself, no higher than the meters prove: reason to lower."""
        return self._base_a(1, now_s)

    def worst_base_a(self, now_s: float) -> dict[str, dict[Line, float]]:
        """Base load of each circuit itself, as high as the meters allow: what a raise must fit into."""
        return self._base_a(0, now_s)

    @property
    def reads_totals(self) -> bool:
        """Whether a meter counts our cars too; else there is one base load, not two."""
        return any(meter.counts is Counts.TOTAL for meter in self.meters.values())

    def _base_a(self, which: int, now_s: float) -> dict[str, dict[Line, float]]:
        drawn: dict[str, dict[Line, float]] = {}
        if self.reads_totals:
            drawn = self._summed({b.evse: b.drawn_between_a(now_s)[which] for b in self.bays.values()})
        return base_load(self.network.installation, self.meters, self.readings, drawn, now_s)

    def _summed(self, of_bays: Mapping[Evse, Mapping[Line, float]]) -> dict[str, dict[Line, float]]:
        site = self.network.installation
        feeds = {circuit.id: circuit.fed_from for circuit in site.circuits}
        drawn: dict[str, dict[Line, float]] = {circuit: {} for circuit in feeds}
        for evse, lines in of_bays.items():
            for line, value in lines.items():
                at: str | None = self.bays[evse].wiring.circuit
                while at is not None:
                    drawn[at][line] = drawn[at].get(line, 0.0) + value
                    at = feeds[at]
        return drawn

    def below_totals(self) -> frozenset[str]:
        """The circuits whose cars a building meter counts too: their own readings must be recent."""
        site = self.network.installation
        meters = {id for id, meter in self.meters.items() if meter.counts is Counts.TOTAL}
        feeds = {circuit.id: circuit.fed_from for circuit in site.circuits}
        found = set()
        for circuit in feeds:
            at: str | None = circuit
            while at is not None:
                if at in meters:
                    found.add(circuit)
                    break
                at = feeds[at]
        return frozenset(found)

    def taken_over(self, old: "SiteState", now_s: float) -> "SiteState":
        """This state of a site whose records have changed, with all that was known under the old ones."""
        bays = {
            evse: old.bays[evse].rewired(bay.wiring, now_s) if evse in old.bays else bay
            for evse, bay in self.bays.items()
        }
        known = all(evse in old.bays for evse in bays)
        return replace(
            self,
            bays=bays,
            readings={circuit: r for circuit, r in old.readings.items() if circuit in self.meters},
            next_id=max(self.next_id, old.next_id),
            signals={id: s for id, s in old.signals.items() if id in self.network.circuits},
            settled_s=old.settled_s,
            plan=old.plan,
            picture_full=old.picture_full and known,
        )


def _instant(now_s: float) -> datetime:
    return datetime.fromtimestamp(now_s, UTC)


def new_site(
    site: Installation,
    meters: Mapping[str, BuildingMeter] | None = None,
    found: Mapping[Evse, StoredOffer] | None = None,
    timing: Timing = USUAL,
) -> SiteState:
    """The state of a site when this process starts."""
    bays = {w.evse: new_bay(w, (found or {}).get(w.evse)) for w in sorted(site.wirings, key=lambda w: w.evse)}
    return SiteState(network=Network(site), bays=bays, timing=timing, meters=meters or {})
