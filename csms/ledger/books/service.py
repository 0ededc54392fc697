"""`books check`: the ten reconciliations over months that were issued."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from csms.clock import Clock
from csms.errors import InvalidInput
from csms.ledger import canonical
from csms.ledger.charges import charges
from csms.ledger.drafting import draft
from csms.ledger.entries import booked_of
from csms.ledger.gathering.service import Gathering
from csms.ledger.issuing import repository
from csms.ledger.issuing.issued import Document, Run
from csms.ledger.period import Month
from csms.ledger.proof import Check, Name, Verdict
from csms.ledger.proving import Evidence, prove
from csms.ledger.statement import Statement
from csms.ledger.stored_run import unpack
from csms.sites.model import Site
from csms.sites.service import SitesService
from csms.store.database import Connection, Database
from csms.store.dialects import hold_still


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthProof:
    """The checks of one month. `late`: something came since it was issued, and is not corrected yet."""

    period: str
    checks: tuple[Check, ...]
    late: bool

    @property
    def holds(self) -> bool:
        return not any(check.failed for check in self.checks)


class BooksService:
    """Proves what is in the books; writes nothing. Raises NotFound, Conflict, InvalidInput."""

    def __init__(
        self, database: Database, clock: Clock, *, sites: SitesService, gathering: Gathering
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._gathering = gathering

    async def check(
        self, site_id: str, first: str | None = None, last: str | None = None
    ) -> tuple[MonthProof, ...]:
        """Every issued month from `first` to `last` (2026-01), all where none is given."""
        low = None if first is None else Month.parse(first, "from")
        high = None if last is None else Month.parse(last, "to")
        if low is not None and high is not None and high < low:
            raise InvalidInput("to", f"is before {low}")
        site = await self._sites.get_site(site_id)
        found = []
        async with self._database.read() as connection:
            await hold_still(connection)
            runs = await repository.runs_of(connection, site_id)
            seen: dict[str, str] = {}
            for run in runs:
                seen |= run.seen
            for run in runs:
                month = Month.parse(run.period)
                if (low is None or low <= month) and (high is None or month <= high):
                    found.append(await self._month(connection, site, run, month, seen.get(run.period, "")))
        return tuple(found)

    async def _month(
        self, connection: Connection, site: Site, run: Run, month: Month, seen: str
    ) -> MonthProof:
        stored = unpack(await repository.inputs_of(connection, run.id))
        bodies = await repository.bodies_of(connection, run.id)
        documents = await repository.documents_of(connection, site.id)
        gathered = await self._gathering.gather(connection, site, month, self._clock.now(), stored[0].inputs)
        issued = {key: canonical.read(Statement, body) for key, body in bodies.items()}
        again = []
        for each in stored:
            made = draft(each.inputs, each.hash)
            again += [
                (statement.number, _hash_of(documents, statement.id), canonical.digest(body))
                for statement, body in zip(made.statements, made.bodies, strict=True)
            ]
        again += [(d.number, d.hash, canonical.digest(bodies[d.id])) for d in documents if d.run_id == run.id]
        entries = await repository.booked(connection, site.id, run.period)
        late = await self._gathering.signature(connection, site, month) != seen
        evidence = Evidence(
            gathered=gathered.assembled,
            supply=gathered.supply,
            supply_problem=gathered.supply_problem,
            spaces=gathered.spaces,
            inputs=gathered.inputs,
            charges=charges(gathered.inputs),
            booked=booked_of(entries, run.period),
            documents=tuple(issued.values()),
            openings=await self._openings(connection, site.id, documents, issued),
            sequences=await repository.sequences_of(connection, site.id),
            again=tuple(again),
        )
        checks = prove(evidence)
        if late:
            checks = tuple(_waits(check) if check.name is Name.MONEY else check for check in checks)
        return MonthProof(period=run.period, checks=checks, late=late)

    async def _openings(
        self,
        connection: Connection,
        site_id: str,
        documents: Sequence[Document],
        issued: dict[str, Statement],
    ) -> dict[str, int]:
        """What the books say that each of these documents opened with: the rows of its time, without the
        payments that it is the first to show, and with the member's documents of the same moment."""
        found: dict[str, int] = {}
        balances: dict[int, dict[str, int]] = {}
        in_turn: defaultdict[tuple[str, int], int] = defaultdict(int)
        for document in sorted(documents, key=_turn):
            statement = issued.get(document.id)
            if statement is None:
                continue
            upto = document.upto_entry
            if upto not in balances:
                balances[upto] = await repository.balances(connection, site_id, upto)
            before = in_turn[document.member_id, upto]
            paid = sum(line.amount_minor for line in statement.payments)
            found[document.id] = balances[upto].get(document.member_id, 0) + before + paid
            in_turn[document.member_id, upto] += document.gross_minor
        return found


def _turn(document: Document) -> tuple[int, str, str, int]:
    """The order in which documents of one moment follow each other in an account."""
    return document.upto_entry, document.kind, document.period, document.sequence


def _hash_of(documents: Sequence[Document], statement_id: str) -> str:
    return next((each.hash for each in documents if each.id == statement_id), "not issued")


def _waits(check: Check) -> Check:
    """Invoices of a month that something came late for are whole again with the next statements."""
    if not check.failed:
        return check
    words = "something came late and is corrected by the next statements: " + check.words
    return Check(name=check.name, verdict=Verdict.NOT_MEASURED, words=words, figures=check.figures)
