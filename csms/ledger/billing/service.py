"""Billing terms and addresses, as the rest of the program holds them."""

import re

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput, NotFound
from csms.ledger.billing import repository
from csms.ledger.terms import Terms, check_lines, check_terms
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put

_LANGUAGE = re.compile(r"[a-z]{2}|")


class BillingService:
    """Keeps how sites bill. Raises NotFound, Conflict, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def set_terms(self, site_id: str, terms: Terms) -> Terms:
        """The terms of a site from now on; what has been issued stays as it is."""
        terms = check_terms(terms)
        async with self._database.write() as connection:
            if await repository.currency_of(connection, site_id) is None:
                raise NotFound("site", site_id)
            now = self._clock.now()
            await repository.put_terms(connection, self._database.dialect, site_id, terms, now)
            body = {"issuer": terms.issuer.name, "first_month": terms.first_month}
            await put(
                connection,
                Fact(topic="billing.changed", at=now, site_id=site_id, subject=site_id, body=body),
            )
        return terms

    async def terms(self, site_id: str) -> Terms:
        """Raises NotFound when the site, or its terms, are not there."""
        async with self._database.read() as connection:
            if await repository.currency_of(connection, site_id) is None:
                raise NotFound("site", site_id)
            found = await repository.get_terms(connection, site_id)
        if found is None:
            raise NotFound("billing terms of site", site_id)
        return found

    async def terms_within(self, connection: Connection, site_id: str) -> tuple[Terms, str]:
        """The terms and the currency in the caller's transaction. Conflict when there are no terms yet."""
        currency = await repository.currency_of(connection, site_id)
        if currency is None:
            raise NotFound("site", site_id)
        terms = await repository.get_terms(connection, site_id)
        if terms is None:
            raise Conflict(f"site {site_id} has no billing terms yet; say first who issues and from when on")
        return terms, currency

    async def set_address(
        self, member_id: str, lines: tuple[str, ...], language: str = ""
    ) -> tuple[tuple[str, ...], str]:
        """Where a member's statements go, and their language ("": the site's)."""
        lines = check_lines("lines", lines)
        if not _LANGUAGE.fullmatch(language):
            raise InvalidInput("language", "must be an ISO 639 code such as en, or left empty")
        async with self._database.write() as connection:
            if not await repository.has_member(connection, member_id):
                raise NotFound("member", member_id)
            await repository.put_address(connection, self._database.dialect, member_id, lines, language)
        return lines, language

    async def address(self, member_id: str) -> tuple[tuple[str, ...], str]:
        """Address lines and language; empty where none were given."""
        async with self._database.read() as connection:
            if not await repository.has_member(connection, member_id):
                raise NotFound("member", member_id)
            return await repository.get_address(connection, member_id)
