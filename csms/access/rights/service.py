"""Rights, as the rest of the program holds them."""

from csms.access.rights import repository
from csms.access.rights.right import Right
from csms.clock import Clock
from csms.errors import InvalidInput
from csms.ids import new_id
from csms.store.database import Database
from csms.store.outbox import Fact, put
from csms.store.paging import Page


class RightsService:
    """Gives and takes rights. Raises NotFound, InvalidInput."""

    def __init__(self, database: Database, clock: Clock) -> None:
        self._database = database
        self._clock = clock

    async def give(
        self,
        *,
        site_id: str,
        member_id: str | None = None,
        group_id: str | None = None,
        everyone: bool = False,
        circuit_id: str | None = None,
        station_id: str | None = None,
        id: str | None = None,
    ) -> Right:
        """Let a member, a group or everyone charge at a station, below a circuit, or on the site.

        The right that exists already is returned as it is. `everyone` has to be said: it opens
        the place to whoever comes, with an unknown card or none.
        """
        if [member_id is not None, group_id is not None, everyone].count(True) != 1:
            raise InvalidInput("member_id", "give one of member_id, group_id and everyone")
        if circuit_id is not None and station_id is not None:
            raise InvalidInput("station_id", "give a station or a circuit, not both; neither is the site")
        right = Right(
            id=new_id("rgt") if id is None else id,
            site_id=site_id,
            member_id=member_id,
            group_id=group_id,
            circuit_id=circuit_id,
            station_id=station_id,
            created_at=self._clock.now(),
        )
        async with self._database.write() as connection:
            site = await repository.site_name(connection, site_id)
            if site is None:
                raise InvalidInput("site_id", f"there is no site {site_id!r}")
            names = {}
            for field in ("member_id", "group_id", "circuit_id", "station_id"):
                key: str | None = getattr(right, field)
                if key is None:
                    continue
                found = await repository.whereabouts(connection, field, key)
                if found is None or found[0] != site_id:
                    thing = field.removesuffix("_id")
                    raise InvalidInput(field, f"there is no {thing} {key!r} on site {site_id!r}")
                names[field] = found[1]
            same = await repository.find_same(connection, right)
            if same is not None:
                return same
            await repository.insert_right(connection, right)
            await put(connection, self._fact("given", right, {"site_id": site, **names}))
        return right

    async def get(self, right_id: str) -> Right:
        async with self._database.read() as connection:
            return await repository.get_right(connection, right_id)

    async def list(
        self,
        *,
        site_id: str | None = None,
        member_id: str | None = None,
        group_id: str | None = None,
        station_id: str | None = None,
        after: str | None = None,
        limit: int = 50,
    ) -> Page[Right]:
        """Rights whose own fields are as given, in order of their ids."""
        async with self._database.read() as connection:
            return await repository.list_rights(
                connection,
                site_id=site_id,
                member_id=member_id,
                group_id=group_id,
                station_id=station_id,
                after=after,
                limit=limit,
            )

    async def take(self, right_id: str) -> None:
        """Take a right away; running sessions go on."""
        async with self._database.write() as connection:
            right = await repository.get_right(connection, right_id)
            names = {}
            for field in ("member_id", "group_id", "circuit_id", "station_id"):
                key: str | None = getattr(right, field)
                found = None if key is None else await repository.whereabouts(connection, field, key)
                if found is not None:
                    names[field] = found[1]
            site = await repository.site_name(connection, right.site_id)
            await repository.delete_right(connection, right_id)
            await put(connection, self._fact("taken", right, {"site_id": site or right.site_id, **names}))

    def _fact(self, change: str, right: Right, names: dict[str, str]) -> Fact:
        who = names.get("member_id") or names.get("group_id") or "everyone"
        where = names.get("station_id") or names.get("circuit_id") or names["site_id"]
        body = {"change": change, "who": who, "where": where}
        now = self._clock.now()
        return Fact(topic="right.changed", at=now, site_id=right.site_id, subject=right.id, body=body)
