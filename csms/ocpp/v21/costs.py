"""Tariffs that a station calculates with, and payment at it, in OCPP 2.1 (I07 to I12, C17 to C25)."""

from collections.abc import Mapping
from datetime import datetime

from csms.ocpp.fields import Fields
from csms.ocpp.translator import ACCEPTANCE, Asked, Heard, Ordered, Payload, Spelled, Writer, expect
from csms.ocpp.v201.security import consent
from csms.stations.commands import Command, CommandResult, CommandStatus
from csms.stations.events import Event
from csms.stations.questions import Question
from csms.stations.words.costs import (
    ChangeTariff,
    ClearTariffs,
    Company,
    GetTariffs,
    SetDefaultTariff,
    SettlementReported,
    TariffAssignment,
    TellWebPayment,
    VatNumberAnswer,
    VatNumberAsked,
)

LONGEST_VAT_NUMBER = 20
"""What the answer can repeat of a number that a station told in more characters (OCPP 2.1 schema)."""


def read_cleared(command: ClearTariffs, said: Fields) -> CommandResult:
    """ACCEPTED only if each one was."""
    told = tuple((each.text("tariffId"), each.text("status")) for each in said.parts("clearTariffsResult"))
    status, refused = CommandStatus.ACCEPTED if told else CommandStatus.ERROR, []
    for tariff_id, word in told:
        one = ACCEPTANCE.read(word) or CommandStatus.ERROR
        if one is not CommandStatus.ACCEPTED:
            refused.append(f"{tariff_id}: {word}")
            status = one if status is CommandStatus.ACCEPTED else status
    return CommandResult(status, "; ".join(refused), told)


def write_vat(question: VatNumberAsked, answer: object, now: datetime) -> Payload:
    """VatNumberValidationResponse: repeats what was asked."""
    said: VatNumberAnswer = expect(answer, VatNumberAnswer)
    wire = consent(said.accepted, said.reason) | {"vatNumber": question.vat_number[:LONGEST_VAT_NUMBER]}
    if question.evse is not None:
        wire["evseId"] = question.evse
    if said.company is not None:
        wire["company"] = write_company(said.company)
    return wire


def write_company(company: Company) -> Payload:
    """AddressType."""
    told = {
        "name": company.name,
        "address1": company.address1,
        "address2": company.address2,
        "city": company.city,
        "postalCode": company.postal_code,
        "country": company.country,
    }
    return {name: text for name, text in told.items() if text or name in _NEEDED}


_NEEDED = ("name", "address1", "city", "country")

INBOUND: Mapping[str, Heard | Spelled] = {
    "NotifySettlement": Spelled(
        SettlementReported,
        {
            "reference": "pspRef",
            "state": "status",
            "amount": "settlementAmount",
            "info": "statusInfo",
            "company": "vatCompany",
        },
    ),
    "VatNumberValidation": Spelled(VatNumberAsked),
}
ANSWERS: Mapping[type[Question] | type[Event], Writer] = {VatNumberAsked: write_vat}
OUTBOUND: Mapping[type[Command], Asked | Ordered] = {
    SetDefaultTariff: Ordered("SetDefaultTariff"),
    ChangeTariff: Ordered("ChangeTransactionTariff"),
    GetTariffs: Ordered("GetTariffs", gives=(TariffAssignment, "tariffAssignments")),
    ClearTariffs: Ordered("ClearTariffs", {"ids": "tariffIds"}, read=read_cleared),
    TellWebPayment: Ordered("NotifyWebPaymentStarted"),
}
