"""Certificates that end or are not taken, upgrades of security that do not arrive, firmware that fails."""

from csms.alarms.signs import Begun, Over, Sign
from csms.store.fact import Fact

FIRMWARE_FAILED = frozenset(
    {
        *("download_failed", "installation_failed", "install_verification_failed", "invalid_signature"),
    }
)
FIRMWARE_DONE = frozenset({"installed"})


def signs(fact: Fact) -> tuple[Sign, ...]:
    station = fact.subject
    told = {name: str(value) for name, value in fact.body.items() if value not in (None, "", {})}
    match fact.topic:
        case "station.certificate_ends":
            return (Begun(kind="certificate_expires", thing=station, station_id=station, detail=told),)
        case "station.certificate_failed":
            return (Begun(kind="certificate_failed", thing=station, station_id=station, detail=told),)
        case "station.certificate":
            return (Over(frozenset({"certificate_expires", "certificate_failed"}), station),)
        case "station.security_upgrade":
            return (Begun(kind="upgrade_failed", thing=station, station_id=station, detail=told),)
        case "station.security_profile":
            return (Over(frozenset({"upgrade_failed"}), station),)
        case "firmware.stopped":
            return (Begun(kind="campaign_stopped", thing=fact.subject, detail=told),)
        case "station.firmware":
            return _firmware(station, fact)
    return ()


def _firmware(station: str, fact: Fact) -> tuple[Sign, ...]:
    told = fact.body.get("told") or {}
    state = str(told.get("state") or "")
    if state in FIRMWARE_FAILED:
        detail = {"state": state}
        return (Begun(kind="firmware_failed", thing=station, station_id=station, detail=detail),)
    return (Over(frozenset({"firmware_failed"}), station),) if state in FIRMWARE_DONE else ()
