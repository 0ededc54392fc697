"""What a car needs, in OCPP 2.x (K15 to K17: smart charging with ISO 15118).

NotifyEVChargingNeedsRequest is answered with whether a schedule will follow: Accepted at once, Processing
when more must be known first, Rejected when none will. The schedule itself is a charging profile like any
other. Source: OCPP 2.0.1 Part 2 (ChargingNeedsType, NotifyEVChargingNeedsStatusEnumType).
"""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.translator import Asked, Heard, Payload, Writer, expect
from csms.stations.commands import Command
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.needs import NeedsAnswer, NeedsReported, NeedsVerdict

STATUSES: Mapping[NeedsVerdict, str] = {
    NeedsVerdict.ACCEPTED: "Accepted",
    NeedsVerdict.PROCESSING: "Processing",
    NeedsVerdict.REJECTED: "Rejected",
}


def read_needs(said: Fields, now: datetime) -> NeedsReported:
    """Raises Unreadable without an EVSE. A percentage outside of 0 to 100 is taken as not told."""
    evse = said.whole("evseId")
    if evse is None:
        raise said.false("evseId", "is missing: nobody knows whose need this is")
    needs = said.part("chargingNeeds")
    ac, dc = needs.part("acChargingParameters"), needs.part("dcChargingParameters")
    energy_wh = ac.wh("energyAmount") if ac else dc.wh("energyAmount")
    return NeedsReported(
        evse=evse,
        transfer=needs.text("requestedEnergyTransfer"),
        departure=needs.time("departureTime"),
        energy_wh=energy_wh,
        battery_wh=dc.wh("evEnergyCapacity"),
        soc_percent=_percent(dc, "stateOfCharge"),
        to_percent=_percent(dc, "fullSoC"),
        max_current_a=ac.number("evMaxCurrent"),
    )


def _percent(said: Fields, name: str) -> int | None:
    value = said.whole(name)
    return value if value is not None and 0 <= value <= 100 else None


def write_needs(question: NeedsReported, answer: object, now: datetime) -> Payload:
    """NotifyEVChargingNeedsResponse."""
    found: NeedsAnswer = expect(answer, NeedsAnswer)
    return {"status": STATUSES[found.verdict]}


INBOUND: Mapping[str, Heard] = {"NotifyEVChargingNeeds": Heard(NeedsReported, read_needs)}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {NeedsReported: write_needs}
OUTBOUND: Mapping[type[Command], Asked] = {}
