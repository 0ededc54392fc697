from sqlalchemy import insert

from api.deps import Central
from api.reports.names import Of, groups_of, names
from csms.store.tables.access import member_group, membership
from tests.csms.yard import BAY_1, EARLY, FLAT_7, FLAT_12, SITE, VAN, build_yard


async def test_everything_has_a_name(central: Central) -> None:
    await build_yard(central.database)
    async with central.database.read() as connection:
        assert (await names(connection, SITE, Of.MEMBER))[FLAT_12] == "flat 12"
        assert (await names(connection, SITE, Of.TOKEN))[f"tok-{FLAT_12}"] == "04A1B2C3D4"
        assert (await names(connection, SITE, Of.STATION))[BAY_1] == BAY_1, "the id where there is no name"
        assert await names(connection, "mill", Of.MEMBER) == {}


async def test_a_member_of_several_groups_is_in_all_of_them_at_once(central: Central) -> None:
    await build_yard(central.database)
    async with central.database.write() as connection:
        vans = {"id": "vans", "site_id": SITE, "name": "Vans", "created_at": EARLY}
        await connection.execute(insert(member_group).values(vans))
        for member_id in (FLAT_12, VAN):
            await connection.execute(insert(membership).values(group_id="vans", member_id=member_id))
        found = await groups_of(connection, SITE)
    assert found == {FLAT_12: ("residents+vans", "Residents and Vans"), VAN: ("vans", "Vans")}
    assert FLAT_7 not in found
