"""The steps of a month's close: what each found, and what stands in its way with where it is mended. Pure.

A step is `good` when nothing is left to do, `wait` when something should be looked at before going on,
and `bad` when it stops the close.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from api.web.month_rows import CHECKS, PoolRow, Sums, kwh, sentence
from api.web.order import natural
from csms.documents.document import Progress
from csms.ledger.period import Month
from csms.ledger.proof import Check, Verdict
from csms.ledger.statement import Flag, Statement, Sum

EXPECTED = frozenset({"boundary", "price_missing"})
"""Reasons of estimates that are no missing reading."""

MOST_NAMED = 8
"""Things that are listed by name before "and n more"."""


@dataclass(frozen=True, slots=True)
class Finding:
    """A sentence, and where what it says is mended ("" where nothing is to be done)."""

    text: str
    address: str = ""
    link: str = ""


@dataclass(frozen=True, slots=True)
class Step:
    """One step of the close; `key` is its anchor on the page."""

    key: str
    title: str
    tone: str
    says: str
    findings: tuple[Finding, ...] = ()


def month_name(month: Month) -> str:
    """`January 2026`."""
    return month.first.strftime("%B %Y")


def over(month: Month, zone: str, now: datetime) -> Step:
    """Whether the month can be closed by the calendar."""
    title = "The month is over"
    if now < month.bounds(ZoneInfo(zone))[1]:
        says = f"not yet: it can be looked at, and issued from {month.after.first} on"
        return Step("over", title, "bad", says)
    return Step("over", title, "good", f"since {month.after.first}")


def readings(statements: Sequence[Statement], running: Sequence[str], orphans: int, site_id: str) -> Step:
    """Whether all energy was read. `running`: chargers whose session of the month has not ended."""
    guessed = [one for each in statements for one in each.estimates if one.reason not in EXPECTED]
    cut = sum(Flag.INTERPOLATED in one.flags for each in statements for one in each.sessions)
    site = {line.key: line.value for line in statements[0].adds_up} if statements else {}
    findings = []
    if running:
        where = some(sorted(running, key=natural))
        text = f"{count(len(running), 'session')} of the month still open: {where}."
        text += " What is told later is corrected in the next month."
        findings.append(Finding(text, f"/sites/{site_id}#bays", "See the bays"))
    if guessed:
        wh = sum(one.energy_wh for one in guessed)
        where = some(sorted({one.arguments.get("station", "?") for one in guessed}, key=natural))
        text = f"{count(len(guessed), 'session')} with {kwh(wh)} that nobody read: {where}."
        findings.append(Finding(text, f"/sites/{site_id}#bays", "See the bays"))
    if site.get(Sum.UNKNOWN):
        text = f"{site[Sum.UNKNOWN]:.3f} kWh were charged with cards that are nobody's; no member pays them."
        findings.append(Finding(text, f"/access/{site_id}#held", "Give the cards to members"))
    if orphans:
        text = f"{count(orphans, 'report')} of chargers fit no session."
        findings.append(Finding(text, f"/sites/{site_id}#events", "See the events"))
    tone = "wait" if findings else "good"
    if cut:
        text = f"{count(cut, 'session')} cut at the month's edge between two readings, and marked so."
        findings.append(Finding(text))
    says = f"{site.get(Sum.CHARGERS, Decimal(0)):.3f} kWh by all chargers"
    return Step("readings", "Readings", tone, says, tuple(findings))


def prices(unpriced: Sequence[tuple[int, str]], pays_sessions: bool) -> Step:
    """Whether every session has its price. `unpriced`: (session, reason)."""
    if not pays_sessions:
        says = "members pay shares of the invoices here, not by session"
        return Step("prices", "Prices", "good", says)
    if not unpriced:
        return Step("prices", "Prices", "good", "every session has its price")
    by_reason: dict[str, list[int]] = {}
    for session_id, reason in unpriced:
        by_reason.setdefault(reason, []).append(session_id)
    findings = tuple(
        Finding(
            f"{count(len(ids), 'session')} ({some([str(one) for one in ids])}): {sentence(reason)}",
            "#market",
            "Send prices, or price again",
        )
        for reason, ids in by_reason.items()
    )
    return Step("prices", "Prices", "bad", f"{count(len(unpriced), 'session')} without a price", findings)


def invoices(pools: Sequence[PoolRow], pays_sessions: bool, tree: Check) -> Step:
    """Whether what suppliers charge is entered. `tree`: the reconciliation with the main meter."""
    findings = []
    tone, says = "good", f"{count(len(pools), 'invoice')} entered"
    if not pools:
        says = "no supplier's invoice of this month is entered"
        text = "Members pay their sessions only." if pays_sessions else "There is nothing to share."
        findings.append(Finding(text, "#enter", "Enter an invoice"))
        tone = "wait" if pays_sessions else "bad"
    if tree.verdict is not Verdict.PASS:
        findings.append(Finding(sentence(tree.words), "#meter", "Enter its registers"))
        tone = "bad" if tree.failed else "wait" if tone == "good" else tone
    return Step("invoices", "Invoices and main meter", tone, says, tuple(findings))


def preview(sums: Sums, site_id: str) -> Step:
    """Whether there is something to issue."""
    if not sums.count:
        finding = Finding("The site has no active member.", f"/access/{site_id}", "See the members")
        return Step("preview", "Preview", "bad", "nobody would get a statement", (finding,))
    return Step("preview", "Preview", "good", f"{count(sums.count, 'document')}, {sums.gross} in all")


def issued(sums: Sums) -> Step:
    """What went out."""
    return Step("issued", "Issued", "good", f"{count(sums.count, 'document')}, {sums.gross} in all")


def proof(checks: Sequence[Check]) -> Step:
    """Whether the books hold."""
    failed = [check for check in checks if check.failed]
    unmeasured = [CHECKS[check.name] for check in checks if check.verdict is Verdict.NOT_MEASURED]
    if failed:
        says = f"{len(failed)} of {len(checks)} reconciliations do not hold"
        findings = tuple(
            Finding(f"{CHECKS[check.name]}: {sentence(check.words)}", "#proof", "See the figures")
            for check in failed
        )
        return Step("proof", "Proof", "bad", says, findings)
    says = f"{len(checks) - len(unmeasured)} of {len(checks)} reconciliations hold"
    return Step("proof", "Proof", "good", f"{says}; not measured: {some(unmeasured)}" if unmeasured else says)


def documents(progress: Progress) -> Step:
    """How far the PDFs are."""
    says = f"{progress.made} of {progress.statements} made"
    if progress.running:
        return Step("documents", "Documents", "wait", f"{says}, the others are being made")
    if progress.failures:
        findings = tuple(
            Finding(f"{one.number}, {one.member_name}: {sentence(one.problem)}")
            for one in progress.failures[:MOST_NAMED]
        )
        return Step("documents", "Documents", "bad", f"{says}, {len(progress.failures)} failed", findings)
    return Step("documents", "Documents", "good" if progress.complete else "wait", says)


def stopped_by(steps: Iterable[Step]) -> tuple[Step, ...]:
    """The steps that stand in the way of the issue."""
    return tuple(step for step in steps if step.tone == "bad")


def months(first: Month | None, issued: Iterable[Month], today: date) -> tuple[tuple[Month, bool], ...]:
    """The months to choose from, the newest first, and whether each is issued: all that are, and the next."""
    done = sorted(issued, reverse=True)
    due = done[0].after if done else first or Month.of_day(today)
    return ((due, False), *((month, True) for month in done))


def count(number: int, noun: str) -> str:
    """`1 session`, `2 sessions`."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def some(texts: Sequence[str]) -> str:
    """The first few, and how many more."""
    more = f" and {len(texts) - MOST_NAMED} more" if len(texts) > MOST_NAMED else ""
    return ", ".join(texts[:MOST_NAMED]) + more
