"""Monitors, chosen reports, customer data in OCPP 2.x (blocks B and N)."""

from collections.abc import Iterable, Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.keys import our_word
from csms.ocpp.translator import ACCEPTANCE, Asked, Heard, Ordered, Spelled, Writer
from csms.ocpp.v201.variables import path_of
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.monitoring import (
    AskCustomer,
    ClearMonitors,
    CustomerReported,
    GetMonitors,
    GetPartReport,
    MonitorResult,
    MonitorsReported,
    ReportedMonitor,
    SetMonitoringBase,
    SetMonitoringLevel,
    SetMonitors,
)


def read_monitors(said: Fields, now: datetime) -> MonitorsReported:
    """Raises Unreadable without the id of the request that it belongs to."""
    request_id = said.whole("requestId")
    if request_id is None:
        raise said.false("requestId", "is missing: nobody knows which report this is a part of")
    monitors = [
        monitor
        for group in said.parts("monitor")
        for each in group.parts("variableMonitoring")
        if (monitor := _monitor(path_of(group), each)) is not None
    ]
    return MonitorsReported(request_id, said.whole("seqNo") or 0, not said.flag("tbc"), tuple(monitors))


def _monitor(path: str, said: Fields) -> ReportedMonitor | None:
    number, value = said.whole("id"), said.number("value")
    if not path or number is None or value is None:
        return None
    return ReportedMonitor(
        path=path,
        id=number,
        kind=our_word(said.text("type")),
        value=value,
        severity=said.whole("severity") or 0,
        transaction=said.flag("transaction"),
        origin=our_word(said.text("eventNotificationType")),
    )


def read_set(command: SetMonitors, said: Fields) -> CommandResult:
    """ACCEPTED only if each one was."""
    return worst(_result(each, path_of(each)) for each in said.parts("setMonitoringResult"))


def read_clear(command: ClearMonitors, said: Fields) -> CommandResult:
    return worst(_result(each, "") for each in said.parts("clearMonitoringResult"))


def _result(said: Fields, path: str) -> MonitorResult:
    return MonitorResult(said.text("status"), said.whole("id"), path)


def worst(results: Iterable[MonitorResult]) -> CommandResult:
    """The first refusal speaks for all. Nothing at all is an error: the station told nothing."""
    told = tuple(results)
    status, refused = CommandStatus.ACCEPTED if told else CommandStatus.ERROR, []
    for each in told:
        one = ACCEPTANCE.read(each.status) or CommandStatus.ERROR
        if one is not CommandStatus.ACCEPTED:
            refused.append(f"{each.path or each.id}: {each.status}")
            status = one if status is CommandStatus.ACCEPTED else status
    return CommandResult(status, "; ".join(refused), told)


INBOUND: Mapping[str, Heard | Spelled] = {
    "NotifyMonitoringReport": Heard(MonitorsReported, read_monitors),
    "NotifyCustomerInformation": Spelled(CustomerReported),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    GetPartReport: Ordered("GetReport", {"criteria": "componentCriteria"}),
    GetMonitors: Ordered("GetMonitoringReport", {"criteria": "monitoringCriteria"}),
    SetMonitoringBase: Ordered("SetMonitoringBase", {"base": "monitoringBase"}),
    SetMonitoringLevel: Ordered("SetMonitoringLevel"),
    SetMonitors: Ordered(
        "SetVariableMonitoring",
        {"monitors": "setMonitoringData", "monitors.stream": "periodicEventStream"},
        read=read_set,
    ),
    ClearMonitors: Ordered("ClearVariableMonitoring", {"ids": "id"}, read=read_clear),
    AskCustomer: Ordered(
        "CustomerInformation", {"customer": "customerIdentifier", "certificate": "customerCertificate"}
    ),
}
