"""The parts of a document that say why: prices in words, what was estimated, how it all adds up."""

from decimal import Decimal
from typing import Any

from csms.documents.charges import Part, column, row, table
from csms.documents.sentence import Voice
from csms.ledger.statement import Estimate, LineKind, Statement, Sum, SumLine

LONGEST_LIST = 40
"""Estimates that are listed one by one; more of a reason are summed up."""

LEVELS: dict[Sum, int] = {
    Sum.MAIN_METER: 0,
    Sum.CHARGERS: 1,
    Sum.MEMBERS: 2,
    Sum.GUESTS: 2,
    Sum.UNKNOWN: 2,
    Sum.LOSSES: 1,
    Sum.INVOICES: 0,
    Sum.MEMBER_SHARES: 1,
    Sum.GUEST_SHARE: 1,
    Sum.ASSOCIATION_SHARE: 1,
    Sum.GUEST_INCOME: 0,
    Sum.GUEST_SURPLUS: 1,
}
"""The order in which the figures are shown. Those one level deeper, up to the next of the same level, add
up to the one above them; a surplus is a part of its income."""
INDENT = "\N{EM SPACE}"


def prices(statement: Statement, voice: Voice) -> Part | None:
    """How the price comes about, in words; None when the ledger says nothing of it."""
    told = [voice.sentence(f"explained.{one.key}", one.arguments) for one in statement.explained]
    if not told:
        return None
    return {"kind": "text", "title": voice.say("prices.title"), "intro": told}


def estimates(statement: Statement, voice: Voice) -> Part:
    """What was estimated, and why."""
    title = voice.say("estimates.title")
    if not statement.estimates:
        return {"kind": "text", "title": title, "intro": [voice.say("estimates.none")]}
    columns = [
        column(voice.say("estimates.when")),
        column(voice.say("estimates.why"), fill=True),
        column(voice.say("sessions.energy"), right=True),
    ]
    rows = []
    for reason in dict.fromkeys(one.reason for one in statement.estimates):
        of_it = [one for one in statement.estimates if one.reason == reason]
        rows += [_estimate(one, voice) for one in of_it] if len(of_it) <= LONGEST_LIST else []
        if len(of_it) > LONGEST_LIST:
            rows.append(row("", _why(of_it[0], voice), _kwh(of_it, voice)))
    total = voice.say(
        "estimates.total",
        count=str(len(statement.estimates)),
        energy=voice.figures.energy(Decimal(sum(one.energy_wh for one in statement.estimates)) / 1000),
    )
    return table(title, columns, rows, dense=True, notes=[total])


def _estimate(one: Estimate, voice: Voice) -> dict[str, Any]:
    when = "" if one.at is None else voice.figures.moment(one.at)
    return row(when, _why(one, voice), _kwh([one], voice))


def _why(one: Estimate, voice: Voice) -> str:
    message_id = f"estimate.{one.reason}"
    return voice.sentence(message_id, one.arguments) if voice.words.knows(message_id) else one.reason


def _kwh(some: list[Estimate], voice: Voice) -> str:
    return voice.figures.number(Decimal(sum(one.energy_wh for one in some)) / 1000, 3)


def adds_up(statement: Statement, voice: Voice) -> Part | None:
    """The whole site's energy and money, and this document's part of it."""
    if not statement.adds_up:
        return None
    rows = []
    order = list(LEVELS)
    for line in sorted(statement.adds_up, key=lambda line: order.index(line.key)):
        level = LEVELS[line.key]
        name = INDENT * level + voice.say(f"sum.{line.key.value}")
        rows.append(row(name, _value(line, voice), strong=not level))
        mine = _mine(line.key, statement, voice)
        if mine is not None:
            rows.append(row(INDENT * (level + 1) + voice.say("sums.mine"), mine))
    return table(
        voice.say("sums.title"),
        [column("", fill=True), column("", right=True)],
        rows,
        intro=[voice.say("sums.intro", site=statement.site_name)],
    )


def _value(line: SumLine, voice: Voice) -> str:
    if line.unit == "kWh":
        return voice.figures.energy(line.value)
    return voice.money(int(line.value.scaleb(voice.currency.exponent)))


def _mine(key: Sum, statement: Statement, voice: Voice) -> str | None:
    if key is Sum.MEMBERS:
        return voice.figures.energy(Decimal(statement.energy_wh) / 1000)
    if key is Sum.MEMBER_SHARES:
        shares = [line.net_minor for line in statement.lines if line.kind is LineKind.POOL_SHARE]
        return voice.money(sum(shares)) if shares else None
    return None


def last_words(statement: Statement, voice: Voice) -> Part | None:
    """Notes of the issuer, and by which rules all this was worked out."""
    notes = []
    if statement.rule_version:
        short = statement.inputs_hash[:16]
        notes.append(voice.say("sums.rules", version=statement.rule_version, hash=short or "–"))
    if not (statement.notes or notes):
        return None
    return {
        "kind": "text",
        "title": voice.say("notes.title") if statement.notes else "",
        "intro": list(statement.notes),
        "notes": notes,
    }
