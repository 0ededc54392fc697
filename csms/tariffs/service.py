"""Tariffs and who they apply to, as the rest of the program holds them."""

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime

from csms.clock import Clock
from csms.errors import Conflict, InvalidInput
from csms.ids import new_id
from csms.sites.model import check_id, check_name
from csms.store.database import Connection, Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page
from csms.tariffs import repository
from csms.tariffs.assignment import Assignment, Occasion, choose
from csms.tariffs.components.cap import Cap
from csms.tariffs.components.discount import Discount
from csms.tariffs.components.spot import Spot
from csms.tariffs.parsing import EXTENSION, parse_tariff
from csms.tariffs.stored import Chosen, StoredTariff, freeze


class TariffsService:
    """Keeps tariffs. Raises NotFound, Conflict, InvalidInput.

    A tariff is never edited, as sessions were priced by it: create a new one and assign it from a
    date on; of two that fit equally the one that began later wins.
    """

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def create(
        self, *, site_id: str, name: str, document: Mapping[str, object], id: str | None = None
    ) -> StoredTariff:
        """A new tariff, assigned to nobody yet. `id` is made up when none is given.

        `document` is an OCPI Tariff object, its fractions Decimal (`document.load_json`); what is
        wrong with it is named by a path that begins with `document`.
        """
        tariff = parse_tariff(document, "document")
        freeze(document, "document")
        stored = StoredTariff(
            id=check_id("id", new_id("tar") if id is None else id),
            site_id=site_id,
            name=check_name("name", name),
            document=document,
            tariff=tariff,
            created_at=self._clock.now(),
        )
        async with self._database.write() as connection:
            currency = await repository.currency_of(connection, site_id)
            if currency is None:
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            if tariff.currency.code != currency:
                raise InvalidInput(
                    "document.currency", f"is {tariff.currency}, but the site is billed in {currency}"
                )
            await self._check_own(connection, stored)
            await repository.insert_tariff(connection, stored)
            await put(connection, self._fact("tariff.created", stored))
        return stored

    async def get(self, tariff_id: str) -> StoredTariff:
        async with self._database.read() as connection:
            return await repository.get_tariff(connection, tariff_id)

    async def list(
        self, *, site_id: str | None = None, after: str | None = None, limit: int = 50
    ) -> Page[StoredTariff]:
        """Tariffs of the site, or of all, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.list_tariffs(connection, site_id=site_id, after=after, limit=limit)

    async def delete(self, tariff_id: str) -> None:
        """Remove a tariff that was never used; Conflict says what it is used by."""
        async with self._database.write() as connection:
            stored = await repository.get_tariff(connection, tariff_id, lock=True)
            used = await repository.uses(connection, tariff_id)
            if used:
                what = " and ".join(f"{count} {sort}" for sort, count in used.items())
                raise Conflict(f"tariff {stored.name} has {what}; it stays, end its assignments instead")
            await repository.delete_tariff(connection, tariff_id)
            await put(connection, self._fact("tariff.deleted", stored))

    async def assign(
        self,
        tariff_id: str,
        *,
        site_id: str,
        station_id: str | None = None,
        group_id: str | None = None,
        guests: bool = False,
        valid_from: datetime | None = None,
        valid_to: datetime | None = None,
        id: str | None = None,
    ) -> Assignment:
        """Price by the tariff the sessions that start from `valid_from` (inclusive) to `valid_to`.

        Of the whole site, or narrowed to a station, and to a member group or to guests (who charge
        without being a member). The assignment that says the same already is returned as it is.
        """
        for name, instant in (("valid_from", valid_from), ("valid_to", valid_to)):
            if instant is not None and instant.tzinfo is None:
                raise InvalidInput(name, "needs a time zone")
        if valid_from is not None and valid_to is not None and valid_to <= valid_from:
            raise InvalidInput("valid_to", "must be later than valid_from")
        wanted = Assignment(
            id=check_id("id", new_id("asg") if id is None else id),
            tariff_id=tariff_id,
            site_id=site_id,
            station_id=station_id,
            group_id=group_id,
            guests=guests,
            valid_from=valid_from,
            valid_until=valid_to,
        )
        async with self._database.write() as connection:
            stored = await repository.get_tariff(connection, tariff_id, lock=True)
            if stored.site_id != site_id:
                raise InvalidInput("site_id", f"tariff {stored.name} belongs to site {stored.site_id!r}")
            currency = await repository.currency_of(connection, site_id)
            if currency != stored.tariff.currency.code:
                raise InvalidInput(
                    "site_id",
                    f"is billed in {currency}, but tariff {stored.name} is in {stored.tariff.currency}; "
                    "create one in the site's currency",
                )
            await self._check_places(connection, wanted)
            same = await repository.find_same(connection, wanted)
            if same is not None:
                return same
            await repository.insert_assignment(connection, wanted, self._clock.now())
            await put(connection, self._fact("tariff.assigned", stored, wanted))
        return wanted

    async def get_assignment(self, assignment_id: str) -> Assignment:
        async with self._database.read() as connection:
            return await repository.get_assignment(connection, assignment_id)

    async def list_assignments(
        self,
        *,
        site_id: str | None = None,
        tariff_id: str | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Assignment]:
        """Assignments that fit all that is given, ended ones among them, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.list_assignments(
                connection, site_id=site_id, tariff_id=tariff_id, after=after, limit=limit
            )

    async def unassign(self, assignment_id: str, at: datetime | None = None) -> Assignment | None:
        """End an assignment: sessions that start from `at` (now) on are priced by another.

        Returns it as it is then; None when it had not begun by then, and is gone. Conflict when
        sessions that started since have been priced by the tariff.
        """
        at = self._clock.now() if at is None else at
        if at.tzinfo is None:
            raise InvalidInput("at", "needs a time zone")
        async with self._database.write() as connection:
            assignment = await repository.get_assignment(connection, assignment_id, lock=True)
            stored = await repository.get_tariff(connection, assignment.tariff_id)
            if assignment.valid_until is not None and assignment.valid_until <= at:
                return assignment
            since = at if assignment.valid_from is None else max(at, assignment.valid_from)
            priced = await repository.priced_since(
                connection, assignment.site_id, assignment.tariff_id, since, assignment.valid_until
            )
            if priced:
                raise Conflict(
                    f"{priced} sessions that started since then are priced by tariff {stored.name}; "
                    "give a later time"
                )
            if assignment.valid_from is not None and at <= assignment.valid_from:
                await repository.delete_assignment(connection, assignment_id)
                await put(connection, self._fact("tariff.unassigned", stored, assignment))
                return None
            ended = replace(assignment, valid_until=at)
            await repository.end_assignment(connection, assignment_id, at)
            await put(connection, self._fact("tariff.unassigned", stored, ended))
        return ended

    async def tariff_for(self, occasion: Occasion) -> Chosen:
        """The tariff of a session, valid at its start, with the reason; or why there is none."""
        async with self._database.read() as connection:
            assignments, stored = await repository.candidates(
                connection, occasion.site_id, occasion.station_id
            )
        choice = choose(assignments, {key: each.tariff for key, each in stored.items()}, occasion)
        best = choice.assignment
        return Chosen(
            tariff=None if best is None else stored[best.tariff_id], assignment=best, reason=choice.reason
        )

    async def _check_places(self, connection: Connection, wanted: Assignment) -> None:
        for name in ("station_id", "group_id"):
            key: str | None = getattr(wanted, name)
            if key is not None and await repository.site_of(connection, name, key) != wanted.site_id:
                thing = name.removesuffix("_id")
                raise InvalidInput(name, f"there is no {thing} {key!r} on site {wanted.site_id!r}")

    async def _check_own(self, connection: Connection, stored: StoredTariff) -> None:
        """What our own components name exists: feeds in the tariff's currency, members and groups."""
        for i, own in enumerate(stored.tariff.own):
            path = f"document.{EXTENSION}.components[{i}]"
            if isinstance(own, Spot):
                currency = await repository.feed_currency(connection, own.feed_id)
                if currency is None:
                    raise InvalidInput(f"{path}.feed", f"there is no price feed {own.feed_id!r}")
                if currency != stored.tariff.currency.code:
                    raise InvalidInput(
                        f"{path}.feed", f"is in {currency}, but the tariff is in {stored.tariff.currency}"
                    )
            elif isinstance(own, Discount | Cap):
                named = {"group_id": own.whom.group_ids, "member_id": own.whom.member_ids}
                for field, ids in named.items():
                    for key in sorted(ids):
                        if await repository.site_of(connection, field, key) != stored.site_id:
                            thing = field.removesuffix("_id")
                            raise InvalidInput(
                                f"{path}.{thing}s", f"there is no {thing} {key!r} on site {stored.site_id!r}"
                            )

    def _fact(self, topic: str, stored: StoredTariff, assignment: Assignment | None = None) -> Fact:
        body: dict[str, object] = {"tariff": stored.name}
        if assignment is not None:
            until = assignment.valid_until
            body |= {"for": assignment.describe(), "until": None if until is None else until.isoformat()}
        now = self._clock.now()
        return Fact(topic=topic, at=now, site_id=stored.site_id, subject=stored.id, body=body)
