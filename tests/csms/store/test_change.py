"""Equal statements of a group become one executemany; what differs stays apart."""

from sqlalchemy import bindparam, insert, select, update

from csms.store.change import Change
from csms.store.database import Database
from csms.store.tables.metering import circuit_reading
from tests.conftest import NOON

INSERT = insert(circuit_reading)
UPDATE = update(circuit_reading).where(circuit_reading.c.circuit_id == bindparam("which"))
UPDATE = UPDATE.values(current_l1_ma=bindparam("amps"))


async def test_inserts_and_updates_of_one_piece(database: Database) -> None:
    inserts = [Change(INSERT, {"circuit_id": name, "at": NOON, "counts": "base"}) for name in "ab"]
    await database.writer.add(*inserts, Change(UPDATE, {"which": "a", "amps": 7}))
    async with database.read() as connection:
        query = select(circuit_reading.c.circuit_id, circuit_reading.c.current_l1_ma)
        rows = (await connection.execute(query.order_by(circuit_reading.c.circuit_id))).all()
    assert [tuple(row) for row in rows] == [("a", 7), ("b", None)]
