"""What chargers tell of their security, and what we see of it. Names: OCPP 2.0.1 part 2, appendix 1."""

from collections.abc import Mapping

from csms.alarms.alarm import Severity
from csms.alarms.signs import Begun, Sign
from csms.store.fact import Fact

ROUTINE = frozenset(
    {
        "firmwareupdated",
        "settingsystemtime",
        "startupofthedevice",
        "resetorreboot",
        "securitylogwascleared",
        "reconfigurationofsecurityparameters",
        "maintenanceloginaccepted",
    }
)
"""Happens in every maintenance; kept in the list of events, and no alarm."""

SEVERITY: Mapping[str, Severity] = {
    "tamperdetectionactivated": Severity.URGENT,
    "attemptedreplayattacks": Severity.URGENT,
    "invalidfirmwaresignature": Severity.URGENT,
    "memoryexhaustion": Severity.NOTICE,
}


def signs(fact: Fact) -> tuple[Sign, ...]:
    if fact.topic == "station.security":
        told = str(fact.body.get("type") or "?")
        name = told.casefold()
        if name in ROUTINE:
            return ()
        return (
            Begun(
                kind="security",
                thing=f"{fact.subject}/{told}"[:120],
                station_id=fact.subject,
                severity=SEVERITY.get(name),
                detail={"type": told, "info": fact.body.get("info") or ""},
            ),
        )
    if fact.topic == "station.duplicate_identity":
        return (
            Begun(
                kind="duplicate_identity",
                thing=fact.subject,
                station_id=fact.subject,
                detail={"addresses": fact.body.get("addresses") or []},
            ),
        )
    return ()
