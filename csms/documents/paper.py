"""A statement as `statement.typ` sets it: plain data, every text and figure already in its language."""

from collections.abc import Mapping
from datetime import timedelta
from decimal import Decimal
from typing import Any

from csms.documents import charges, reasons, usage
from csms.documents.iban import is_iban
from csms.documents.sentence import Voice
from csms.ledger.statement import DocumentLink, Statement, StatementKind, VatCategory


def paper(statement: Statement, voice: Voice) -> Mapping[str, Any]:
    """All of the document. What is to be paid comes first; why, and how it adds up, comes last."""
    parts = (
        charges.lines(statement, voice),
        charges.account(statement, voice),
        usage.chart(statement, voice),
        reasons.prices(statement, voice),
        reasons.estimates(statement, voice),
        reasons.adds_up(statement, voice),
        usage.sessions(statement, voice),
        reasons.last_words(statement, voice),
    )
    credit = statement.kind is StatementKind.CREDIT_NOTE
    kept = [part for part in parts if part is not None]
    if credit:
        told = ("", voice.say("lines.title"), voice.say("account.title"), voice.say("notes.title"))
        kept = [part for part in kept if part["title"] in told]
    name, period = statement.recipient.name, period_text(statement, voice)
    language = voice.words.language
    before, between, after = _page_words(voice)
    return {
        "lang": language.value,
        "region": language.region,
        "title": title(statement, voice),
        "number": statement.number or voice.say("title.preview"),
        "banner": "" if statement.number else voice.say("title.preview"),
        "running": f"{name} · {period}",
        "issuer": {"name": statement.issuer.name, "lines": _issuer(statement, voice)},
        "member": {"label": voice.say("member.for"), "name": name, "lines": [*statement.recipient.address]},
        "facts": _facts(statement, voice, period),
        "opening": [_taken_back(statement.corrects, voice)] if credit and statement.corrects else [],
        "pay": _credited(statement, voice) if credit else _to_pay(statement, voice),
        "footer": {"left": statement.issuer.name, "page": [before, between, after]},
        "parts": kept,
    }


def title(statement: Statement, voice: Voice) -> str:
    """What the document is called; with VAT it is an invoice by law and must say so."""
    if statement.kind is StatementKind.CREDIT_NOTE:
        return voice.say("title.credit_note")
    registered = any(line.vat_category is not VatCategory.NOT_SUBJECT for line in statement.lines)
    return voice.say("title.invoice" if registered else "title.statement")


def period_text(statement: Statement, voice: Voice) -> str:
    """A whole month by its name, anything else from day to day."""
    first, last = statement.period_start, statement.period_end - timedelta(days=1)
    whole = (
        first.day == 1
        and statement.period_end.day == 1
        and (last.year, last.month) == (first.year, first.month)
    )
    return voice.figures.month(first) if whole else voice.figures.days(first, last)


def _issuer(statement: Statement, voice: Voice) -> list[str]:
    issuer = statement.issuer
    tax = [voice.say("issuer.tax_id", tax_id=issuer.tax_id)] if issuer.tax_id else []
    return [*issuer.address, *([issuer.email] if issuer.email else []), *tax]


def _facts(statement: Statement, voice: Voice, period: str) -> list[list[str]]:
    say = voice.say
    facts = [
        [say("fact.number"), statement.number or say("title.preview")],
        [say("fact.period"), period],
        [say("fact.issued"), voice.figures.day(statement.issued_on)],
    ]
    links = (("fact.corrects", statement.corrects), ("fact.replaces", statement.replaces))
    facts += [[say(label), _document(link, voice)] for label, link in links if link is not None]
    facts.append([say("fact.site"), statement.site_name])
    if statement.kind is StatementKind.STATEMENT:
        facts.append([say("fact.energy"), voice.figures.energy(Decimal(statement.energy_wh) / 1000)])
    return facts


def _document(link: DocumentLink, voice: Voice) -> str:
    return voice.say("fact.document", number=link.number, day=voice.figures.day(link.issued_on))


def _taken_back(link: DocumentLink, voice: Voice) -> str:
    return voice.say("credit.why", number=link.number)


def _to_pay(statement: Statement, voice: Voice) -> Mapping[str, Any]:
    say, balance = voice.say, statement.balance
    owed = balance.closing_minor
    if owed < 0:
        label = say("pay.credit")
    elif owed == 0:
        label = say("pay.nothing")
    elif statement.due_on is None:
        label = say("pay.open")
    else:
        label = say("pay.until", day=voice.figures.day(statement.due_on))
    notes = [_of_this(statement, voice)]
    before = balance.opening_minor - balance.paid_minor
    if before:
        notes.append(say("pay.and_before", before=voice.money(before)))
    details = []
    if owed > 0 and statement.issuer.payment_to:
        details = [
            [say("pay.account"), spaced(statement.issuer.payment_to)],
            [say("pay.holder"), statement.issuer.name],
            [say("pay.reference"), statement.number],
        ]
    return {"label": label, "amount": voice.money(abs(owed)), "note": " · ".join(notes), "details": details}


def _credited(statement: Statement, voice: Voice) -> Mapping[str, Any]:
    back = -statement.gross_minor
    label = voice.say("pay.credited" if back >= 0 else "pay.charged_back")
    note = _of_this(statement, voice)
    return {"label": label, "amount": voice.money(abs(back)), "note": note, "details": []}


def _of_this(statement: Statement, voice: Voice) -> str:
    gross = voice.money(statement.gross_minor)
    if not statement.vat_minor:
        return voice.say("pay.of_this", gross=gross)
    return voice.say("pay.of_this_vat", gross=gross, vat=voice.money(statement.vat_minor))


def spaced(account: str) -> str:
    """An IBAN in groups of four, as ISO 13616 prints it; anything else as it is."""
    plain = account.replace(" ", "")
    if not is_iban(plain):
        return account
    return " ".join(plain[at : at + 4] for at in range(0, len(plain), 4))


def _page_words(voice: Voice) -> tuple[str, str, str]:
    told = voice.say("footer.page", page="\0", pages="\1")
    before, _, rest = told.partition("\0")
    between, _, after = rest.partition("\1")
    return before, between, after
