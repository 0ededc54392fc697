"""Our names for the wire's properties and words: exact in both directions, made from the schemas.

A name is looked up among the properties that the official schema has at that very place, so that
nothing is guessed: `wire_name` of a field that has no property there is None. Our form of a name
is small letters with underscores, unless ODD says otherwise; a test proves that no two properties
of one object, and no two members of one enumeration, get the same name of ours in any version.
"""

import re
from collections.abc import Iterable, Mapping
from functools import cache

ODD: Mapping[str, str] = {
    "evseId": "evse",
    "evseIds": "evses",
    "connectorId": "connector",
    "idToken": "token",
    "idTokens": "tokens",
    "idTag": "token",
    "groupIdToken": "group_token",
    "parentIdTag": "group_token",
    "timestamp": "at",
    "generatedAt": "at",
    "basetime": "at",
    "timeBase": "at",
    "settlementTime": "at",
    "seqNo": "sequence",
    "type": "kind",
    "controlType": "kind",
    "eventType": "kind",
    "tariffKind": "kind",
    "certificateType": "use",
    "certificateChain": "chain",
    "techInfo": "info",
    "extraInfo": "info",
    "duration": "duration_s",
    "interval": "interval_s",
    "retryInterval": "retry_interval_s",
    "timeout": "timeout_s",
    "messageTimeout": "message_timeout_s",
    "responseTime": "response_time_s",
    "delay": "delay_s",
    "randomDelay": "random_delay_s",
    "hysteresisDelay": "hysteresis_delay_s",
    "hv10MinMeanTripDelay": "hv10_min_mean_trip_delay_s",
    "minEnergy": "min_energy_wh",
    "maxEnergy": "max_energy_wh",
    "minCurrent": "min_current_a",
    "maxCurrent": "max_current_a",
    "minPower": "min_power_w",
    "maxPower": "max_power_w",
    "minTime": "min_time_s",
    "maxTime": "max_time_s",
    "minChargingTime": "min_charging_time_s",
    "maxChargingTime": "max_charging_time_s",
    "minIdleTime": "min_idle_time_s",
    "maxIdleTime": "max_idle_time_s",
    "startTime": "start_at",
    "stopTime": "stop_at",
    "startDateTime": "start_at",
    "endDateTime": "end_at",
    "retrieveDate": "retrieve_at",
    "retrieveDateTime": "retrieve_at",
    "installDateTime": "install_at",
    "oldestTimestamp": "from_at",
    "latestTimestamp": "to_at",
    "expiryDate": "expires_at",
    "expiryDateTime": "expires_at",
    "productionDate": "produced_at",
    "nextUpdate": "next_update",
    "hashAlgorithm": "algorithm",
    "certificateHashData": "hash",
    "childCertificateHashData": "children",
    "hashRootCertificate": "root",
    "responderURL": "responder_url",
    "versionNumber": "version",
    "listVersion": "version",
    "chargingProfileId": "profile_id",
    "isDefault": "default",
    "isSuperseded": "superseded",
    "supersededIds": "superseded",
    "taxRates": "taxes",
    "soC": "soc_percent",
    "soH": "soh_percent",
    "prioritizedEMAIDs": "prioritized_emaids",
    "limitAtSoC": "limit_at_soc",
    "variableMonitoringId": "monitor_id",
    "curveData": "points",
    "messageInfo": "messages",
}
"""Names of ours that do not follow from the wire's: units, times, and our words for the thing."""

ODD_WORDS: Mapping[str, str] = {
    "CentralSystemRootCertificate": "central_root",
    "CSMSRootCertificate": "central_root",
    "ManufacturerRootCertificate": "manufacturer_root",
    "V2GRootCertificate": "v2g_root",
    "MORootCertificate": "mo_root",
    "OEMRootCertificate": "oem_root",
    "V2GCertificateChain": "v2g_chain",
    "ChargingStationCertificate": "station",
    "V2GCertificate": "v2g",
    "V2G20Certificate": "v2g20",
    "DiagnosticsLog": "diagnostics",
    "SecurityLog": "security",
    "DataCollectorLog": "data_collector",
    "UploadFailure": "upload_failed",
    "IKEv2": "ikev2",
    "IPSec": "ipsec",
    "L2TP": "l2tp",
}
"""Words of ours that do not follow from the wire's."""

VERBATIM = frozenset({"connectorType", "chargingLimitSource"})
"""Properties whose words stay the wire's: a list in OCPP 2.0.1, open texts in 2.1."""

_SEAM = re.compile(r"(?<=[a-z0-9])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])")


def snake(name: str) -> str:
    """`maxPower` as `max_power`, `limit_L2` as `limit_l2`, `fixedPFAbsorb` as `fixed_pf_absorb`."""
    return re.sub("_+", "_", _SEAM.sub("_", name)).lower()


@cache
def our_name(wire: str) -> str:
    """Our name of a property."""
    return ODD.get(wire) or snake(wire)


@cache
def our_word(wire: str) -> str:
    """Our word for a member of an enumeration."""
    return ODD_WORDS.get(wire) or snake(wire).replace(".", "_").replace("-", "_")


def wire_name(properties: Iterable[str], ours: str) -> str | None:
    """The property among `properties` that we call `ours`; None when there is none."""
    for name in properties:
        if our_name(name) == ours:
            return name
    return None
