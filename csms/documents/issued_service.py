"""The ledger as documents see it: what was issued with a month, one statement, a site's language."""

from csms.ledger.billing.service import BillingService
from csms.ledger.issuing.issued import Document
from csms.ledger.issuing.service import IssuingService
from csms.ledger.statement import Statement
from csms.store.paging import every


class IssuedStatements:
    """`service.Issued` over the ledger's services. Raises NotFound."""

    def __init__(self, issuing: IssuingService, billing: BillingService) -> None:
        self._issuing = issuing
        self._billing = billing

    async def ids_of_month(self, site_id: str, period: str) -> tuple[str, ...]:
        """All that was issued when the month was: its statements, and the credit notes and new statements
        that went out with them for earlier months; and credit notes that were made by hand since."""
        runs = await every(self._issuing.runs, site_id=site_id)
        found: list[Document] = []
        for run in runs:
            if run.period == period:
                found += await every(self._issuing.statements, run_id=run.id)
        of_month = await every(self._issuing.statements, site_id=site_id, period=period)
        found += [one for one in of_month if one.run_id is None]
        return tuple(one.id for one in sorted(found, key=lambda one: (one.series, one.sequence)))

    async def get(self, statement_id: str) -> Statement:
        """A statement as it was issued."""
        return (await self._issuing.statement(statement_id))[1]

    async def language_of(self, site_id: str) -> str:
        """The language of whom no other is kept for."""
        return (await self._billing.terms(site_id)).language
