"""The actions of each version and who may send them.

The standard's schemas do not say who sends what. Direction of 1.6: OCPP 1.6 §3.3 as corrected
by its errata, and the security white paper §5; 2.0.1: part 2, functional blocks A to P;
2.1: part 0 (direction of a few from memory). Tests hold the lists against the schema files.
"""

from collections.abc import Mapping

from csms.ocpp.version import Version


def _names(text: str) -> frozenset[str]:
    return frozenset(text.split())


_STATION_16 = _names("""
    Authorize BootNotification DataTransfer DiagnosticsStatusNotification FirmwareStatusNotification
    Heartbeat LogStatusNotification MeterValues SecurityEventNotification SignCertificate
    SignedFirmwareStatusNotification StartTransaction StatusNotification StopTransaction
""")
_CENTRAL_16 = _names("""
    CancelReservation CertificateSigned ChangeAvailability ChangeConfiguration ClearCache
    ClearChargingProfile DataTransfer DeleteCertificate ExtendedTriggerMessage GetCompositeSchedule
    GetConfiguration GetDiagnostics GetInstalledCertificateIds GetLocalListVersion GetLog
    InstallCertificate RemoteStartTransaction RemoteStopTransaction ReserveNow Reset SendLocalList
    SetChargingProfile SignedUpdateFirmware TriggerMessage UnlockConnector UpdateFirmware
""")
_STATION_201 = _names("""
    Authorize BootNotification ClearedChargingLimit DataTransfer FirmwareStatusNotification
    Get15118EVCertificate GetCertificateStatus Heartbeat LogStatusNotification MeterValues
    NotifyChargingLimit NotifyCustomerInformation NotifyDisplayMessages NotifyEVChargingNeeds
    NotifyEVChargingSchedule NotifyEvent NotifyMonitoringReport NotifyReport
    PublishFirmwareStatusNotification ReportChargingProfiles ReservationStatusUpdate
    SecurityEventNotification SignCertificate StatusNotification TransactionEvent
""")
_CENTRAL_201 = _names("""
    CancelReservation CertificateSigned ChangeAvailability ClearCache ClearChargingProfile
    ClearDisplayMessage ClearVariableMonitoring CostUpdated CustomerInformation DataTransfer
    DeleteCertificate GetBaseReport GetChargingProfiles GetCompositeSchedule GetDisplayMessages
    GetInstalledCertificateIds GetLocalListVersion GetLog GetMonitoringReport GetReport
    GetTransactionStatus GetVariables InstallCertificate PublishFirmware RequestStartTransaction
    RequestStopTransaction ReserveNow Reset SendLocalList SetChargingProfile SetDisplayMessage
    SetMonitoringBase SetMonitoringLevel SetNetworkProfile SetVariableMonitoring SetVariables
    TriggerMessage UnlockConnector UnpublishFirmware UpdateFirmware
""")
_STATION_21 = _STATION_201 | _names("""
    BatterySwap ClosePeriodicEventStream GetCertificateChainStatus NotifyDERAlarm
    NotifyDERStartStop NotifyPeriodicEventStream NotifyPriorityCharging NotifySettlement
    OpenPeriodicEventStream PullDynamicScheduleUpdate ReportDERControl VatNumberValidation
""")
_CENTRAL_21 = _CENTRAL_201 | _names("""
    AFRRSignal AdjustPeriodicEventStream ChangeTransactionTariff ClearDERControl ClearTariffs
    GetDERControl GetPeriodicEventStream GetTariffs NotifyAllowedEnergyTransfer
    NotifyWebPaymentStarted RequestBatterySwap SetDERControl SetDefaultTariff
    UpdateDynamicSchedule UsePriorityCharging
""")

FROM_STATION: Mapping[Version, frozenset[str]] = {
    Version.OCPP16: _STATION_16,
    Version.OCPP201: _STATION_201,
    Version.OCPP21: _STATION_21,
}
FROM_CENTRAL: Mapping[Version, frozenset[str]] = {
    Version.OCPP16: _CENTRAL_16,
    Version.OCPP201: _CENTRAL_201,
    Version.OCPP21: _CENTRAL_21,
}
KNOWN: Mapping[Version, frozenset[str]] = {
    version: FROM_STATION[version] | FROM_CENTRAL[version] for version in Version
}
"""Every action of a version; any other is answered NotImplemented."""

UNANSWERED = frozenset({"NotifyPeriodicEventStream"})
"""Sent as SEND (OCPP 2.1): has no response."""

ABOUT_TRANSACTIONS = frozenset({"StartTransaction", "StopTransaction", "MeterValues", "TransactionEvent"})
"""Never refused for their form: a station repeats what is refused, then throws it away.

OCPP 1.6 §3.7.1 with OCPP-J 1.6 errata §3.2; 2.x has the same retry variables.
"""

TELLS_TIME = frozenset({"BootNotification", "Heartbeat"})
"""Their answers carry our time, so that an old answer would be a wrong one."""
