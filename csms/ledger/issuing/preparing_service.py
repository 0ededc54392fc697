"""Everything that issuing a month would write, worked out without writing anything."""

import asyncio
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from zoneinfo import ZoneInfo

from csms.errors import Conflict, InvalidInput
from csms.ledger import canonical
from csms.ledger.charges import charges, corrections
from csms.ledger.credit import credit_note
from csms.ledger.drafting import Draft, draft
from csms.ledger.entries import Entry, EntryKind, booked_of
from csms.ledger.gathering.service import Gathered, Gathering
from csms.ledger.inputs import ASSOCIATION, GUESTS, Correction, MemberFacts, RunInputs
from csms.ledger.issuing import repository
from csms.ledger.issuing.issued import Document, Run
from csms.ledger.period import Month
from csms.ledger.proof import Check
from csms.ledger.proving import Evidence, prove
from csms.ledger.statement import DocumentLink, PaymentLine, Statement, StatementKind
from csms.ledger.stored_run import InputText, unpack, written
from csms.ledger.terms import Late, Terms
from csms.sites.model import Site
from csms.store.database import Connection

AGAIN = 100
"""How many statements a run drafts a second time at most."""


@dataclass(frozen=True, slots=True)
class Head:
    """Where the books stood: what is issued later than this must be prepared again."""

    last_entry: int
    runs: int
    number: int
    credit_number: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Prepared:
    """`credits`: (original's id, credit note); `anew`: statements of earlier months, by their inputs."""

    head: Head
    gathered: Gathered
    draft: Draft
    credits: tuple[tuple[str, Statement], ...]
    anew: tuple[Draft, ...]
    texts: tuple[InputText, ...]
    seen: Mapping[str, str]
    checks: tuple[Check, ...]

    @property
    def failed(self) -> tuple[Check, ...]:
        return tuple(check for check in self.checks if check.failed)


@dataclass(slots=True)
class _Late:
    """What earlier months come to."""

    corrections: list[Correction]
    credits: list[tuple[Document, Statement]]
    anew: list[tuple[RunInputs, dict[str, Document]]]
    seen: dict[str, str]


class Preparing:
    """Works in the caller's transaction."""

    def __init__(self, gathering: Gathering) -> None:
        self._gathering = gathering

    async def prepare(
        self, connection: Connection, site: Site, month: Month, now: datetime, issued_on: date | None
    ) -> Prepared:
        """The month with its proof. Raises InvalidInput (`period`) and Conflict where it cannot be billed."""
        gathered = await self._gathering.gather(connection, site, month, now)
        terms = gathered.inputs.terms
        runs = await repository.runs_of(connection, site.id)
        _check_order(terms.first_month, runs, month)
        head = Head(
            last_entry=await repository.last_entry(connection, site.id),
            runs=len(runs),
            number=await repository.last_number(connection, site.id, terms.series),
            credit_number=await repository.last_number(connection, site.id, terms.credit_series),
        )
        on = issued_on or now.astimezone(ZoneInfo(site.time_zone)).date()
        late = await self._late(connection, site, month, runs, now, terms.late, terms.correct_months)
        late.seen[str(month)] = await self._gathering.signature(connection, site, month)
        balances = await repository.balances(connection, site.id)
        payments = await repository.payments_since(connection, site.id)
        account = _Account(balances, payments)
        credits = _credited(late, account, terms.credit_series, head.credit_number, on)
        number = head.number
        anew, texts = [], []
        for inputs, originals in late.anew:
            made = await asyncio.to_thread(
                written, _numbered(inputs, account, originals, number + 1, on, now)
            )
            done = await asyncio.to_thread(draft, made.inputs, made.hash)
            account.close(done.statements)
            number += len(done.statements)
            anew.append(done)
            texts.append(made)
        members = _members(gathered, late.corrections, account)
        own = await asyncio.to_thread(
            written,
            replace(
                gathered.inputs,
                members=tuple(account.facts(member) for member in members),
                corrections=tuple(late.corrections),
                numbered_from=number + 1,
                issued_on=on,
            ),
        )
        done = await asyncio.to_thread(draft, own.inputs, own.hash)
        sequences = await repository.sequences_of(connection, site.id)
        documents = [*(note for _, note in credits), *(s for d in anew for s in d.statements)]
        evidence = Evidence(
            gathered=gathered.assembled,
            supply=gathered.supply,
            supply_problem=gathered.supply_problem,
            spaces=gathered.spaces,
            inputs=own.inputs,
            charges=done.charges,
            booked=None,
            documents=(*documents, *done.statements),
            openings=_openings(balances, payments, [*documents, *done.statements]),
            sequences=_with(sequences, [*documents, *done.statements]),
            again=await asyncio.to_thread(_again, done),
        )
        return Prepared(
            head=head,
            gathered=gathered,
            draft=done,
            credits=tuple(
                (original.id, note) for (original, _), (_, note) in zip(late.credits, credits, strict=True)
            ),
            anew=tuple(anew),
            texts=(own, *texts),
            seen=late.seen,
            checks=await asyncio.to_thread(prove, evidence),
        )

    async def terms(self, connection: Connection, site_id: str) -> Terms:
        """How the site bills. Raises Conflict where that has not been said."""
        return (await self._gathering.billing.terms_within(connection, site_id))[0]

    async def _late(
        self,
        connection: Connection,
        site: Site,
        month: Month,
        runs: Sequence[Run],
        now: datetime,
        rule: Late,
        months: int,
    ) -> _Late:
        """What came late for months that were issued."""
        found = _Late([], [], [], {})
        known: dict[str, str] = {}
        for run in runs:
            known |= run.seen
        for run in [run for run in runs if Month.parse(run.period) < month][-months or len(runs) :]:
            earlier = Month.parse(run.period)
            signature = await self._gathering.signature(connection, site, earlier)
            if signature == known.get(run.period):
                continue
            found.seen[run.period] = signature
            await self._again(connection, site, run, earlier, now, rule, found)
        return found

    async def _again(
        self,
        connection: Connection,
        site: Site,
        run: Run,
        earlier: Month,
        now: datetime,
        rule: Late,
        found: _Late,
    ) -> None:
        (then, *_) = unpack(await repository.inputs_of(connection, run.id))
        inputs = (await self._gathering.gather(connection, site, earlier, now, then.inputs)).inputs
        entries = await repository.booked(connection, site.id, run.period)
        documents = await repository.documents_of(connection, site.id, run.period)
        standing, withdrawn = _standing(documents)
        names = {pool.id: pool.name for pool in then.inputs.pools} | {
            part.tariff_id: part.tariff for part in then.inputs.parts
        }
        wrong = corrections(run.period, charges(inputs), booked_of(entries, run.period), names)
        wrong = tuple(each for each in wrong if each.account not in withdrawn)
        anew: dict[str, Document] = {}
        if rule is Late.CREDIT_NOTE:
            for account in sorted({each.account for each in wrong} - {GUESTS, ASSOCIATION}):
                original = standing.get(account)
                if original is not None and await self._is_all(connection, original, entries):
                    _, body = await repository.get_document(connection, original.id)
                    found.credits.append((original, canonical.read(Statement, body)))
                    anew[account] = original
        if anew:
            kept = tuple(each for each in then.inputs.corrections if each.account in anew)
            found.anew.append((replace(inputs, corrections=kept), anew))
        found.corrections += [each for each in wrong if each.account not in anew]

    async def _is_all(self, connection: Connection, original: Document, booked: Sequence[Entry]) -> bool:
        """Whether the document is all that was booked for its month on the member: nothing came on top."""
        mine = await repository.entries_of(connection, original.id)
        here = sum(
            entry.amount_minor
            for entry in mine
            if entry.period == original.period and entry.kind is EntryKind.CHARGE
        )
        whole = sum(entry.amount_minor for entry in booked if entry.member_id == original.member_id)
        return here == whole


def _again(made: Draft) -> tuple[tuple[str, str, str], ...]:
    """Of some statements, at most a hundred: number, hash, and the hash when drafted a second time.

    All of them are drafted again, out of what was stored, whenever the books are checked.
    """
    every = len(made.statements) // AGAIN + 1
    second = draft(made.inputs, made.inputs_hash, every)
    return tuple(
        (statement.number, canonical.digest(before), canonical.digest(after))
        for statement, before, after in zip(
            made.statements[::every], made.bodies[::every], second.bodies, strict=True
        )
    )


class _Account:
    """What each member owes, and the payments that no document has shown yet: both used up in order."""

    def __init__(self, balances: Mapping[str, int], payments: Mapping[str, Sequence[PaymentLine]]) -> None:
        self._payments = {key: tuple(lines) for key, lines in payments.items()}
        self._owed = dict(balances)
        for key, lines in self._payments.items():
            self._owed[key] = self._owed.get(key, 0) + sum(line.amount_minor for line in lines)

    def open(self, member_id: str) -> tuple[int, tuple[PaymentLine, ...]]:
        return self._owed.get(member_id, 0), self._payments.get(member_id, ())

    def has(self, member_id: str) -> bool:
        return bool(self._owed.get(member_id)) or bool(self._payments.get(member_id))

    def facts(self, member: MemberFacts) -> MemberFacts:
        opening, payments = self.open(member.member_id)
        return replace(member, opening_minor=opening, payments=payments)

    def close(self, statements: Sequence[Statement]) -> None:
        for statement in statements:
            self._owed[statement.recipient.member_id] = statement.balance.closing_minor
            self._payments.pop(statement.recipient.member_id, None)


def _check_order(first_month: str, runs: Sequence[Run], month: Month) -> None:
    first = Month.parse(first_month)
    if month < first:
        raise InvalidInput("period", f"is before {first}, the first month that this site bills")
    due = Month.parse(runs[-1].period).after if runs else first
    if month < due:
        raise Conflict(f"{month} has been issued; what came late for it is in the next statements")
    if due < month:
        raise Conflict(f"{due} comes first: months are billed in order")


def _standing(documents: Sequence[Document]) -> tuple[dict[str, Document], set[str]]:
    """The statement of a month that stands for each member; members whose one was credited, with nothing
    in its place: somebody decided that they do not pay it."""
    credited = {each.corrects_id for each in documents}
    statements = [each for each in documents if each.kind == StatementKind.STATEMENT.value]
    standing = {each.member_id: each for each in statements if each.id not in credited}
    return standing, {each.member_id for each in statements} - set(standing)


def _credited(
    late: _Late, account: _Account, series: str, last: int, on: date
) -> list[tuple[str, Statement]]:
    made = []
    for n, (original, statement) in enumerate(late.credits, last + 1):
        opening, payments = account.open(original.member_id)
        note = credit_note(
            statement,
            series=series,
            sequence=n,
            issued_on=on,
            opening_minor=opening,
            payments=payments,
        )
        account.close([note])
        made.append((original.id, note))
    return made


def _numbered(
    inputs: RunInputs,
    account: _Account,
    originals: Mapping[str, Document],
    number: int,
    on: date,
    now: datetime,
) -> RunInputs:
    """The inputs of a month that is issued anew for some."""
    zone = ZoneInfo(inputs.time_zone)
    members = tuple(
        replace(
            account.facts(member),
            replaces=DocumentLink(original.number, original.issued_at.astimezone(zone).date()),
        )
        if (original := originals.get(member.member_id)) is not None
        else member
        for member in inputs.members
    )
    return replace(
        inputs,
        members=members,
        only=tuple(sorted(originals)),
        numbered_from=number,
        issued_on=on,
        issued_at=now,
    )


def _members(gathered: Gathered, late: Sequence[Correction], account: _Account) -> list[MemberFacts]:
    """Those of the month, and those who are told something of an earlier one or have an open account."""
    there = {member.member_id: member for member in gathered.inputs.members}
    for key, member in gathered.everybody.items():
        if key not in there and (account.has(key) or any(each.account == key for each in late)):
            there[key] = member
    return [there[key] for key in sorted(there)]


def _openings(
    balances: Mapping[str, int],
    payments: Mapping[str, Sequence[PaymentLine]],
    documents: Sequence[Statement],
) -> dict[str, int]:
    """What the books say that each document opens with."""
    owed: defaultdict[str, int] = defaultdict(int, balances)
    for key, lines in payments.items():
        owed[key] += sum(line.amount_minor for line in lines)
    found = {}
    for document in documents:
        member = document.recipient.member_id
        found[document.id] = owed[member]
        owed[member] += document.gross_minor - sum(line.amount_minor for line in document.payments)
    return found


def _with(sequences: Mapping[str, Sequence[int]], documents: Sequence[Statement]) -> dict[str, list[int]]:
    found = {series: list(numbers) for series, numbers in sequences.items()}
    for document in documents:
        found.setdefault(document.series, []).append(document.sequence)
    return found
