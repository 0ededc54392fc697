"""Documents, as the rest of the program holds them: made for a whole month, kept, handed out.

A document is made outside of any transaction, in a thread, and written in one of its own: whatever was
made before a server died is there, and the rest is made when it comes up again or is asked anew.
"""

import asyncio
import logging
from collections.abc import AsyncIterator, Callable, Iterator
from contextlib import asynccontextmanager
from tempfile import TemporaryFile
from typing import BinaryIO, Protocol

from csms.clock import Clock
from csms.documents import making, repository
from csms.documents.archive import Archive, missing_text
from csms.documents.columns import DocumentSettings, check_settings
from csms.documents.document import Document, Failure, Progress
from csms.documents.language import Language, check_language
from csms.documents.rent_ledger import Table, table_of
from csms.documents.sentence import voice_of
from csms.errors import Conflict, PhaseyardError
from csms.ledger.statement import Statement
from csms.sites.service import SitesService
from csms.store.database import Database
from csms.tasks import Tasks

log = logging.getLogger(__name__)

AT_ONCE = 2
"""typst gives the interpreter free, so two threads make use of two cores; more would starve the chargers."""

Tell = Callable[[Progress], None]


class Issued(Protocol):
    """What documents need of the ledger: statements as they were issued."""

    async def ids_of_month(self, site_id: str, period: str) -> tuple[str, ...]:
        """Ids of all statements and credit notes of the month, in the order of their numbers."""
        ...

    async def get(self, statement_id: str) -> Statement:
        """One of them. Raises NotFound."""
        ...

    async def language_of(self, site_id: str) -> str:
        """The language of whom no other is kept for."""
        ...


class DocumentsService:
    """Raises NotFound, Conflict, InvalidInput."""

    def __init__(
        self, database: Database, clock: Clock, *, sites: SitesService, statements: Issued, tasks: Tasks
    ) -> None:
        self._database = database
        self._clock = clock
        self._sites = sites
        self._statements = statements
        self._tasks = tasks
        self._running: set[tuple[str, str]] = set()

    async def settings(self, site_id: str) -> DocumentSettings:
        await self._sites.get_site(site_id)
        async with self._database.read() as connection:
            return await repository.settings_of(connection, site_id)

    async def set_settings(self, site_id: str, settings: DocumentSettings) -> DocumentSettings:
        """Keep the settings. Documents that are made stay as they are."""
        checked = check_settings(settings)
        await self._sites.get_site(site_id)
        async with self._database.write() as connection:
            await repository.keep_settings(
                connection, self._database.dialect, site_id, checked, self._clock.now()
            )
        return checked

    async def progress(self, site_id: str, period: str) -> Progress:
        """How far the month's documents are."""
        wanted = set(await self._statements.ids_of_month(site_id, period))
        tried = [one for one in await self.of_month(site_id, period) if one.statement_id in wanted]
        failures = tuple(
            Failure(one.statement_id, one.number, one.member_name, one.problem)
            for one in tried
            if one.problem
        )
        return Progress(
            statements=len(wanted),
            made=len(tried) - len(failures),
            failures=failures,
            running=(site_id, period) in self._running,
        )

    async def start(self, site_id: str, period: str) -> Progress:
        """Make what is missing of the month, in the background; what has failed is tried again."""
        before = await self.progress(site_id, period)
        if not before.statements:
            raise Conflict(f"no statement is issued for {period}; issue the month first")
        if before.running or before.complete:
            return before
        async with self._database.write() as connection:
            await repository.want(connection, self._database.dialect, site_id, period, self._clock.now())
        if (site_id, period) not in self._running:
            self._running.add((site_id, period))
            work = self._make(site_id, period, lambda _: None)
            self._tasks.spawn(work, f"documents of {site_id}, {period}")
        return Progress(statements=before.statements, made=before.made, running=True)

    async def go_on(self) -> None:
        """Finish what was being made when the server died."""
        async with self._database.read() as connection:
            left = await repository.unfinished(connection)
        for site_id, period in left:
            await self.make(site_id, period)

    async def make(self, site_id: str, period: str, tell: Tell = lambda _: None) -> Progress:
        """Make what is missing of the month, and wait for it. `tell` hears of every document.

        A document that fails is named in the result and does not stop the others.
        """
        if (site_id, period) in self._running:
            raise Conflict(f"documents of {period} are being made; see how far they are")
        self._running.add((site_id, period))
        return await self._make(site_id, period, tell)

    async def _make(self, site_id: str, period: str, tell: Tell) -> Progress:
        """The work of a month that is marked as running."""
        try:
            settings = await self.settings(site_id)
            before = await self.progress(site_id, period)
            made = {one.statement_id for one in await self.of_month(site_id, period) if not one.problem}
            ids = await self._statements.ids_of_month(site_id, period)
            count = _Count(before, tell)
            todo = iter([each for each in ids if each not in made])
            async with asyncio.TaskGroup() as group:
                for _ in range(AT_ONCE):
                    group.create_task(self._work(site_id, period, todo, settings, count))
            async with self._database.write() as connection:
                await repository.done(connection, site_id, period, self._clock.now())
        finally:
            self._running.discard((site_id, period))
        return await self.progress(site_id, period)

    async def _work(
        self, site_id: str, period: str, todo: Iterator[str], settings: DocumentSettings, count: "_Count"
    ) -> None:
        for statement_id in todo:
            statement = await self._statements.get(statement_id)
            made, problem = None, ""
            try:
                made = await asyncio.to_thread(making.make, statement, settings)
            except PhaseyardError as error:
                problem = str(error)
            except Exception as error:
                log.exception("document of %s failed", statement.number)
                problem = f"{type(error).__name__}: {error}"
            document = Document(
                statement_id=statement_id,
                site_id=site_id,
                period=period,
                number=statement.number,
                member_name=statement.recipient.name,
                problem=problem[:1000],
                hash=made.hash if made else "",
                size=len(made.pdf) if made else 0,
                electronic=made is not None and made.invoice is not None,
                made_at=self._clock.now(),
            )
            async with self._database.write() as connection:
                await repository.keep(connection, self._database.dialect, document, made)
            count.add(document)

    async def of_month(self, site_id: str, period: str) -> tuple[Document, ...]:
        """What was made of the month, and what failed."""
        async with self._database.read() as connection:
            return await repository.of_month(connection, site_id, period)

    async def get(self, statement_id: str) -> Document:
        async with self._database.read() as connection:
            return await repository.get(connection, statement_id)

    async def pdf(self, statement_id: str) -> bytes:
        async with self._database.read() as connection:
            return await repository.pdf_of(connection, statement_id)

    async def invoice(self, statement_id: str) -> bytes:
        """The EN 16931 XML that the document carries."""
        async with self._database.read() as connection:
            return await repository.invoice_of(connection, statement_id)

    async def preview(self, statement: Statement) -> bytes:
        """A PDF of a statement that is not kept, such as a preview."""
        made = await asyncio.to_thread(making.make, statement, DocumentSettings())
        return made.pdf

    @asynccontextmanager
    async def archive(self, site_id: str, period: str) -> AsyncIterator[BinaryIO]:
        """All of the month as a ZIP in a temporary file, at its beginning. What failed is named in a text
        file inside. Raises Conflict when nothing is made yet."""
        documents = await self.of_month(site_id, period)
        if not any(not one.problem for one in documents):
            raise Conflict(f"no document of {period} is made yet; make them first")
        with TemporaryFile() as out:
            archive = Archive(out)
            for document in documents:
                if not document.problem:
                    pdf = await self.pdf(document.statement_id)
                    await asyncio.to_thread(archive.add, document.file_name, pdf)
            if text := missing_text(documents):
                archive.add("missing.txt", text.encode())
            await asyncio.to_thread(archive.close)
            out.seek(0)
            yield out

    async def rent_ledger(self, site_id: str, period: str, language: Language | None = None) -> Table:
        """The month's statements as the site's rent ledger takes them. `language`: of heads that have no
        name, None: the site's."""
        settings = await self.settings(site_id)
        ids = await self._statements.ids_of_month(site_id, period)
        if not ids:
            raise Conflict(f"no statement is issued for {period}; issue the month first")
        statements = [await self._statements.get(each) for each in ids]
        voice = voice_of(statements[0], language or await self._language_of(site_id))
        return table_of(statements, settings, voice)

    async def _language_of(self, site_id: str) -> Language:
        return check_language("language", await self._statements.language_of(site_id))


class _Count:
    """Counts for whoever wants to see how far it is."""

    def __init__(self, before: Progress, tell: Tell) -> None:
        self._tell = tell
        self._statements = before.statements
        self._made = before.made
        self._failures: list[Failure] = []
        tell(Progress(statements=self._statements, made=self._made, running=True))

    def add(self, document: Document) -> None:
        if document.problem:
            failure = Failure(document.statement_id, document.number, document.member_name, document.problem)
            self._failures.append(failure)
        else:
            self._made += 1
        self._tell(
            Progress(
                statements=self._statements, made=self._made, failures=tuple(self._failures), running=True
            )
        )
