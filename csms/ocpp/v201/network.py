"""Network profiles and the state of a transaction's messages in OCPP 2.x (B09, B10, E14)."""

from collections.abc import Mapping

from csms.ocpp.fields import Fields
from csms.ocpp.translator import Asked, Heard, Ordered, Payload, Spelled, Writer
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.network import GetTransactionStatus, SetNetworkProfile, TransactionStatus

WHERE: Mapping[str, str] = {
    "slot": "configurationSlot",
    "url": "connectionData.ocppCsmsUrl",
    "security_profile": "connectionData.securityProfile",
    "message_timeout_s": "connectionData.messageTimeout",
    "interface": "connectionData.ocppInterface",
    "identity": "connectionData.identity",
    "password": "connectionData.basicAuthPassword",
    "apn": "connectionData.apn",
    "apn.authentication": "apnAuthentication",
    "apn.user_name": "apnUserName",
    "apn.password": "apnPassword",
    "vpn": "connectionData.vpn",
    "vpn.shared_key": "key",
}


def write_status(command: GetTransactionStatus) -> Payload:
    return {"transactionId": command.transaction_id[:36]} if command.transaction_id else {}


def read_status(command: GetTransactionStatus, said: Fields) -> CommandResult:
    queued, ongoing = said.raw("messagesInQueue"), said.raw("ongoingIndicator")
    if queued is None:
        raise said.false("messagesInQueue", "is missing: the station told nothing")
    status = TransactionStatus(
        said.flag("messagesInQueue"), None if ongoing is None else said.flag("ongoingIndicator")
    )
    return CommandResult(CommandStatus.ACCEPTED, "", status)


INBOUND: Mapping[str, Heard | Spelled] = {}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SetNetworkProfile: Ordered(
        "SetNetworkProfile",
        WHERE,
        fixed={"connectionData": {"ocppVersion": "OCPP20", "ocppTransport": "JSON"}},
    ),
    GetTransactionStatus: Asked("GetTransactionStatus", write_status, read_status),
}
