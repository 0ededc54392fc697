"""The table of messages in csms/ocpp/README.md, written from the translators themselves.

`python -m tools.message_table` writes it; a test compares, so that no action of any version is left out.
"""

import typing
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from csms.ocpp.actions import FROM_CENTRAL, FROM_STATION
from csms.ocpp.adapter import VERSIONS, adapter_for
from csms.ocpp.translator import Translator
from csms.ocpp.version import Version
from csms.stations.commands import COMMANDS
from csms.stations.events import EVENTS
from csms.stations.questions import QUESTIONS
from csms.stations.told.kinds import KEPT

README = Path("csms/ocpp/README.md")
BEGIN, END = "<!-- table: begin -->\n", "<!-- table: end -->\n"

SAID: Mapping[str, str] = {
    "Boot": "registration, our time, heartbeat interval",
    "Heartbeat": "our time",
    "MayCharge": "the verdict on a token, asked of `access`",
    "TransactionReported": "a session begins, goes on, ends; verdict, in 1.6 the id; cost kept as `cost`",
    "VendorMessage": "UnknownVendorId, until a maker's messages are taught",
    "StatusReported": "state of a connector",
    "MetersReported": "readings of a session, or of the station",
    "VariablesReported": "the device model, part by part",
    "ComponentsReported": "status of connectors, faults, changes of variables",
    "ProfilesReported": "profiles in force, part by part",
    "NeedsReported": "Accepted where its charge is planned, Processing before it begins, else Rejected",
    "CertificateAsked": "passed on to the signer (`csms/security`), else Rejected",
    "ContractCertificateAsked": "Failed until a contract service takes it (`Deciders.contracts`)",
    "RevocationAsked": "Failed until somebody asks responders (`Deciders.revocations`)",
    "ChainStatusAsked": "Failed for each, ask again tomorrow, until then too",
    "ScheduleUpdateAsked": "Rejected until the owner of dynamic profiles takes it (`Deciders.schedules`)",
    "VatNumberAsked": "Rejected until somebody knows companies (`Deciders.vat`)",
    "EvScheduleReported": "Accepted: received, not agreed to",
    "StreamOpened": "Accepted: we asked for it with its monitor",
    "StreamReported": "no answer (SEND)",
}
"""What we answer or do, where there is more to say than that it is kept."""

ASKED: Mapping[str, str] = {
    "StartCharging": "begin a charge",
    "StopCharging": "end a charge",
    "Reset": "restart the station, or one EVSE",
    "Unlock": "let go of a cable",
    "SetAvailability": "take an EVSE out of use and back",
    "Trigger": "ask for a message now",
    "SetProfile": "offer a current; the dead man's limit",
    "ClearProfiles": "take limits back",
    "GetProfiles": "ask which profiles are in force",
    "GetComposite": "ask what the station makes of its profiles; compared with ours",
    "GetVariables": "read variables (1.6: configuration keys)",
    "SetVariables": "set variables (1.6: one key)",
    "GetReport": "ask for the device model",
    "ClearCache": "forget remembered tokens",
    "SendVendorMessage": "a maker's own message",
    "RequestBatterySwap": "let somebody swap a battery",
    "ChangeTariff": "calculate a running transaction by another tariff",
    "ClearTariffs": "take tariffs back",
    "GetTariffs": "ask which tariffs there are",
    "SetDefaultTariff": "calculate by this tariff",
    "TellCost": "show what a transaction has cost so far",
    "TellWebPayment": "somebody is paying on a page",
    "ClearDerControl": "take controls of the grid back",
    "GetDerControls": "ask which there are",
    "SetDerControl": "a curve or a set point of the grid",
    "ClearDisplayMessage": "take a message from the display",
    "GetDisplayMessages": "ask which there are",
    "SetDisplayMessage": "show a message",
    "GetLog": "send a log to an address (1.6: diagnostics too)",
    "PublishFirmware": "have a local controller offer firmware",
    "UnpublishFirmware": "no longer",
    "UpdateFirmware": "install firmware, signed or not",
    "AllowEnergyTransfer": "which ways of transfer a car may use",
    "SendBalancingSignal": "the grid's frequency restoration signal",
    "UpdateSchedule": "change a dynamic profile as it runs",
    "UsePriority": "charge with priority, or as before",
    "CancelReservation": "give a reserved EVSE free",
    "GetLocalListVersion": "which local list the station has",
    "ReserveNow": "keep an EVSE for a token",
    "SendLocalList": "tokens for when we cannot be reached",
    "AdjustStream": "how often a stream sends",
    "AskCustomer": "tell or forget what is kept of a customer",
    "ClearMonitors": "watch variables no longer",
    "GetMonitors": "ask which are watched",
    "GetPartReport": "ask for some of the device model",
    "GetStreams": "ask which streams there are",
    "SetMonitoringBase": "which monitors to begin with",
    "SetMonitoringLevel": "how grave a thing must be to be told",
    "SetMonitors": "watch variables",
    "GetTransactionStatus": "is there something not told yet",
    "SetNetworkProfile": "how we are reached",
    "DeleteCertificate": "trust a certificate no longer",
    "DeliverCertificate": "the signed certificate of the station",
    "GetCertificates": "ask which are there",
    "InstallCertificate": "trust a root",
}
"""What each command is for."""


def translator(version: Version) -> Translator:
    """The translator of `version` with its tables."""
    return typing.cast(Translator, adapter_for(version))


def follows(word: str) -> str:
    """What happens to a neutral word that a station says."""
    kept = {kind.__name__: f"`{kind_of}`" for kind, kind_of in KEPT.items()}
    texts = [SAID.get(word, ""), f"kept as {kept[word]}" if word in kept else ""]
    return "; ".join(text for text in texts if text)


def rows(actions: Mapping[Version, Mapping[str, type]], what: typing.Callable[[str], str]) -> Iterator[str]:
    """A row for each action: its file in each version, what it becomes, what for."""
    for action in sorted({action for one in actions.values() for action in one}):
        words = {one[action].__name__: None for one in actions.values() if action in one}
        cells = [_home(version, action, actions[version]) for version in VERSIONS]
        texts = "; ".join(filter(None, (what(word) for word in words)))
        yield f"| {action} | {' | '.join(cells)} | {', '.join(words)} | {texts} |\n"


def _home(version: Version, action: str, known: Mapping[str, type]) -> str:
    if action not in known:
        return ""
    return translator(version).homes[action].removeprefix("csms.ocpp.").replace(".", "/")


def counts() -> Iterator[str]:
    """Of each version, how many actions there are and how many we speak."""
    for version in VERSIONS:
        ours = translator(version)
        known = FROM_STATION[version] | FROM_CENTRAL[version]
        spoken = set(ours.inbound_actions) | set(ours.asked_actions)
        said, asked = len(ours.inbound_actions), len(ours.asked_actions)
        missing = ", ".join(sorted(known - spoken)) or "none"
        yield f"| {version} | {len(known)} | {said} | {asked} | {len(spoken)} | {missing} |\n"


def table() -> str:
    """The generated part of the page."""
    said = {version: translator(version).inbound_actions for version in VERSIONS}
    asked = {version: translator(version).asked_actions for version in VERSIONS}
    head = f"| action | {' | '.join(VERSIONS)} |"
    rule = "|---" * (3 + len(VERSIONS)) + "|\n"
    parts: Iterable[str] = (
        "| version | actions | the station says | we say | spoken | missing |\n|---|---|---|---|---|---|\n",
        *counts(),
        "\n## The station says\n\n",
        f"{head} becomes | what follows |\n",
        rule,
        *rows(said, follows),
        "\n## We say\n\n",
        f"{head} made from | what for |\n",
        rule,
        *rows(asked, lambda word: ASKED.get(word, "")),
    )
    return "".join(parts)


def page(text: str) -> str:
    """`text` of the page with its generated part made anew."""
    before, rest = text.split(BEGIN)
    return f"{before}{BEGIN}{table()}{END}{rest.split(END)[1]}"


def unexplained() -> list[str]:
    """Neutral words without a text of ours in the table."""
    heard = [kind.__name__ for kind in (*EVENTS, *QUESTIONS) if not follows(kind.__name__)]
    return heard + [kind.__name__ for kind in COMMANDS if kind.__name__ not in ASKED]


if __name__ == "__main__":
    README.write_text(page(README.read_text("utf-8")), "utf-8")
