"""Previews, issue of a month, statements and credit notes, as the rest of the program holds them."""

import asyncio
import gc
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any
from zoneinfo import ZoneInfo

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.ledger import canonical
from csms.ledger.credit import credit_note
from csms.ledger.entries import Entry, mirrored, of_draft
from csms.ledger.gathering.service import Gathering
from csms.ledger.inputs import RULE_VERSION
from csms.ledger.issuing import repository
from csms.ledger.issuing.issued import Document, Run
from csms.ledger.issuing.preparing_service import Head, Prepared, Preparing
from csms.ledger.period import Month
from csms.ledger.proof import Check
from csms.ledger.statement import Statement, StatementKind
from csms.ledger.stored_run import pack
from csms.ledger.terms import Terms
from csms.sites.service import SitesService
from csms.store.database import Connection, Database
from csms.store.dialects import hold_still
from csms.store.outbox import Fact, put
from csms.store.paging import Page

ATTEMPTS = 5
"""How often a run is prepared anew because somebody booked meanwhile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Preview:
    """What issuing a month would give now: `statements` without numbers in the sense that they are not
    taken, `credits` and `anew` for months that are made good by credit notes, and the proof."""

    period: str
    statements: tuple[Statement, ...]
    credits: tuple[Statement, ...]
    anew: tuple[Statement, ...]
    checks: tuple[Check, ...]
    unpriced: tuple[tuple[int, str], ...]

    @property
    def ready(self) -> bool:
        return not any(check.failed for check in self.checks)


class IssuingService:
    """Issues what members owe. Raises NotFound, Conflict, InvalidInput.

    A run is one transaction: all of a month's documents, entries and numbers, or none. Two that issue
    at once wait for each other, and the second finds the month issued. Issuing it again gives the run
    that is there.
    """

    def __init__(
        self, database: Database, clock: Clock, *, sites: SitesService, gathering: Gathering
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._preparing = Preparing(gathering)

    async def preview(self, site_id: str, period: str) -> Preview:
        """What the month's statements would be now, and whether they prove. Writes nothing."""
        prepared = await self._prepare(site_id, Month.parse(period), None)
        return Preview(
            period=period,
            statements=prepared.draft.statements,
            credits=tuple(note for _, note in prepared.credits),
            anew=tuple(statement for made in prepared.anew for statement in made.statements),
            checks=prepared.checks,
            unpriced=tuple(sorted(prepared.gathered.assembled.unpriced.items())),
        )

    async def issue(self, site_id: str, period: str, issued_on: date | None = None) -> Run:
        """Issue the month; the run that is there when it was issued already.

        Conflict with the reason when the month is not over, an earlier one is missing, or the proof
        fails. `issued_on`: the date on the documents, today where none is given.
        """
        month = Month.parse(period)
        site = await self._sites.get_site(site_id)
        now = self._clock.now()
        if now < month.bounds(ZoneInfo(site.time_zone))[1]:
            raise Conflict(f"{month} is not over yet; a preview shows what there is so far")
        if issued_on is not None and issued_on < month.after.first:
            raise InvalidInput("issued_on", f"must not be before {month.after.first}, when the month is over")
        for _ in range(ATTEMPTS):
            there = await self._run_of(site_id, period)
            if there is not None:
                return there
            try:
                prepared = await self._prepare(site_id, month, issued_on)
            except Conflict:
                if (there := await self._run_of(site_id, period)) is not None:
                    return there  # by somebody else, a moment ago
                raise
            if prepared.failed:
                reason = "; ".join(f"{check.name.value}: {check.words}" for check in prepared.failed)
                await self._tell_refused(site_id, period, reason)
                raise Conflict(f"the proof fails: {reason}")
            packed = await asyncio.to_thread(pack, prepared.texts)
            async with self._database.write() as connection:
                await repository.lock_books(connection, site_id)
                if await self._head(connection, site_id, prepared.gathered.inputs.terms) == prepared.head:
                    return await self._write(connection, site_id, prepared, *packed)
        raise Conflict("somebody books all the time; try again")

    async def credit(self, statement_id: str, note: str = "", issued_on: date | None = None) -> Document:
        """A credit note over a whole statement; the one that is there when it was credited already.

        What it charged is not charged again by what comes late.
        """
        async with self._database.read() as connection:
            original, _ = await repository.get_document(connection, statement_id)
        if original.kind != StatementKind.STATEMENT.value:
            raise Conflict(f"{original.number} is a credit note itself")
        site = await self._sites.get_site(original.site_id)
        now = self._clock.now()
        on = issued_on or now.astimezone(ZoneInfo(site.time_zone)).date()
        async with self._database.write() as connection:
            await repository.lock_books(connection, original.site_id)
            documents = await repository.documents_of(connection, original.site_id, original.period)
            for each in documents:
                if each.corrects_id == statement_id:
                    return each
            original, body = await repository.get_document(connection, statement_id)
            statement = canonical.read(Statement, body)
            made = await self._credit_note(connection, original, statement, on, note)
            booked = await repository.entries_of(connection, statement_id)
            upto = await repository.last_entry(connection, original.site_id)
            row = _row(made, original.period, None, now, upto, corrects_id=statement_id)
            await repository.add_documents(connection, [row])
            await repository.add_entries(
                connection, original.site_id, original.currency, None, now, mirrored(booked, made.id)
            )
            await self._count(connection, original.site_id, made.series, made.sequence)
            body_ = {"number": made.number, "corrects": original.number, "member": original.member_id}
            await put(
                connection,
                Fact(
                    topic="statement.credited",
                    at=now,
                    site_id=original.site_id,
                    subject=made.id,
                    body=body_,
                ),
            )
            document, _ = await repository.get_document(connection, made.id)
        return document

    async def run(self, run_id: str) -> Run:
        async with self._database.read() as connection:
            return await repository.get_run(connection, run_id)

    async def runs(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[Run]:
        """Runs of a site or of all, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.page_of_runs(connection, site_id, after=after, limit=limit)

    async def statement(self, statement_id: str) -> tuple[Document, Statement]:
        """An issued document as it was issued."""
        async with self._database.read() as connection:
            document, body = await repository.get_document(connection, statement_id)
        return document, canonical.read(Statement, body)

    async def statement_text(self, statement_id: str) -> str:
        """The canonical text of an issued document."""
        async with self._database.read() as connection:
            return (await repository.get_document(connection, statement_id))[1]

    async def statements(
        self,
        *,
        site_id: str | None = None,
        member_id: str | None = None,
        period: str | None = None,
        run_id: str | None = None,
        kind: StatementKind | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Document]:
        """Issued documents that fit all that is given, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.page_of_documents(
                connection,
                site_id=site_id,
                member_id=member_id,
                period=period,
                run_id=run_id,
                kind=None if kind is None else kind.value,
                after=after,
                limit=limit,
            )

    async def _prepare(self, site_id: str, month: Month, issued_on: date | None) -> Prepared:
        site = await self._sites.get_site(site_id)
        async with self._database.read() as connection:
            await hold_still(connection)
            with _collector_off():
                return await self._preparing.prepare(connection, site, month, self._clock.now(), issued_on)

    async def _tell_refused(self, site_id: str, period: str, reason: str) -> None:
        """Nothing is booked, but that somebody tried, and why it was stopped, is news."""
        fact = Fact(
            topic="statements.refused",
            at=self._clock.now(),
            site_id=site_id,
            subject=site_id,
            body={"period": period, "reason": reason},
        )
        async with self._database.write() as connection:
            await put(connection, fact)

    async def _run_of(self, site_id: str, period: str) -> Run | None:
        async with self._database.read() as connection:
            runs = await repository.runs_of(connection, site_id)
        return next((run for run in runs if run.period == period), None)

    async def _head(self, connection: Connection, site_id: str, terms: Terms) -> Head:
        return Head(
            last_entry=await repository.last_entry(connection, site_id),
            runs=len(await repository.runs_of(connection, site_id)),
            number=await repository.last_number(connection, site_id, terms.series),
            credit_number=await repository.last_number(connection, site_id, terms.credit_series),
        )

    async def _write(
        self, connection: Connection, site_id: str, prepared: Prepared, packed: bytes, inputs_hash: str
    ) -> Run:
        inputs, now, upto = prepared.draft.inputs, prepared.draft.inputs.issued_at, prepared.head.last_entry
        run = Run(
            id=new_id("run"),
            site_id=site_id,
            period=inputs.period,
            issued_at=now,
            currency=inputs.currency,
            rule_version=RULE_VERSION,
            inputs_hash=inputs_hash,
            seen=prepared.seen,
            proof=[plain(check) for check in prepared.checks],
        )
        await repository.add_run(connection, run, packed)
        rows, entries = [], list[Entry]()
        for original_id, note in prepared.credits:
            period = str(Month.of_day(note.period_start))
            rows.append(_row(note, period, run.id, now, upto, corrects_id=original_id))
            entries += mirrored(await repository.entries_of(connection, original_id), note.id)
        originals = {note.recipient.member_id: key for key, note in prepared.credits}
        for made in prepared.anew:
            for statement, body in zip(made.statements, made.bodies, strict=True):
                replaced = originals.get(statement.recipient.member_id)
                rows.append(
                    _row(statement, made.inputs.period, run.id, now, upto, body=body, replaces_id=replaced)
                )
            entries += _of_members(of_draft(made))
        for statement, body in zip(prepared.draft.statements, prepared.draft.bodies, strict=True):
            rows.append(_row(statement, inputs.period, run.id, now, upto, body=body))
        entries += of_draft(prepared.draft)
        await repository.add_documents(connection, rows)
        await repository.add_entries(connection, site_id, inputs.currency, run.id, now, entries)
        for series in (inputs.terms.series, inputs.terms.credit_series):
            last = max((row["sequence"] for row in rows if row["series"] == series), default=0)
            if last:
                await self._count(connection, site_id, series, last)
        told = {"period": run.period, "statements": len(rows), "currency": run.currency}
        await put(
            connection,
            Fact(topic="statements.issued", at=now, site_id=site_id, subject=run.id, body=told),
        )
        return run

    async def _count(self, connection: Connection, site_id: str, series: str, last: int) -> None:
        await repository.set_last_number(connection, self._database.dialect, site_id, series, last)

    async def _credit_note(
        self, connection: Connection, original: Document, statement: Statement, on: date, note: str
    ) -> Statement:
        text, site_id, member = note.strip(), original.site_id, original.member_id
        series = (await self._preparing.terms(connection, site_id)).credit_series
        payments = tuple((await repository.payments_since(connection, site_id)).get(member, ()))
        owed = (await repository.balances(connection, site_id)).get(member, 0)
        return credit_note(
            statement,
            series=series,
            sequence=await repository.last_number(connection, site_id, series) + 1,
            issued_on=on,
            opening_minor=owed + sum(line.amount_minor for line in payments),
            payments=payments,
            notes=(text,) if text else (),
        )


@contextmanager
def _collector_off() -> Iterator[None]:
    """Without the search for cycles: a month's records have none, and looking through them again and again
    is a third of a large run's processor time (measured with `python -m tools.bench statements`)."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


def plain(check: Check) -> dict[str, Any]:
    """A check as JSON values."""
    return {
        "name": check.name.value,
        "verdict": check.verdict.value,
        "words": check.words,
        "figures": [
            {"label": figure.label, "value": figure.value, "unit": figure.unit} for figure in check.figures
        ],
    }


def _of_members(entries: Iterable[Entry]) -> list[Entry]:
    """Guests' and the association's part of an earlier month comes as corrections of this one."""
    return [entry for entry in entries if entry.member_id is not None and entry.statement_id is not None]


def _row(
    statement: Statement,
    period: str,
    run_id: str | None,
    now: datetime,
    upto: int,
    *,
    body: str | None = None,
    corrects_id: str | None = None,
    replaces_id: str | None = None,
) -> dict[str, Any]:
    text = canonical.write(statement) if body is None else body
    return {
        "id": statement.id,
        "site_id": statement.site_id,
        "run_id": run_id,
        "member_id": statement.recipient.member_id,
        "kind": statement.kind.value,
        "series": statement.series,
        "sequence": statement.sequence,
        "number": statement.number,
        "period": period,
        "issued_at": now,
        "due_on": statement.due_on,
        "currency": statement.currency,
        "net_minor": statement.net_minor,
        "vat_minor": statement.vat_minor,
        "gross_minor": statement.gross_minor,
        "body": text,
        "hash": canonical.digest(text),
        "upto_entry": upto,
        "corrects_id": corrects_id,
        "replaces_id": replaces_id,
    }
