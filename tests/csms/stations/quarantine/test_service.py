"""Frames that could not be read are kept, cut and bounded, on both databases."""

from datetime import timedelta

from csms.stations.quarantine.repository import QuarantinedFrame
from csms.stations.quarantine.service import LARGEST_FRAME, QuarantineService
from csms.store.database import Database
from tests.conftest import NOON


async def test_a_frame_is_kept_byte_for_byte(database: Database) -> None:
    quarantine = QuarantineService(database)
    await quarantine.keep("BAY-01", b'[2,"\xff\0', "not JSON\0 at character 4", NOON)
    (frame,) = (await quarantine.list_frames("BAY-01")).items
    assert frame == QuarantinedFrame(
        id=frame.id, station_id="BAY-01", at=NOON, reason="not JSON at character 4", frame=b'[2,"\xff\0'
    )


async def test_giants_are_cut(database: Database) -> None:
    quarantine = QuarantineService(database)
    await quarantine.keep("x" * 99, b"[" * (LARGEST_FRAME + 1), "r" * 999, NOON)
    (frame,) = (await quarantine.list_frames()).items
    assert (len(frame.frame), len(frame.reason), len(frame.station_id)) == (LARGEST_FRAME, 255, 48)


async def test_the_latest_of_each_station_stay(database: Database) -> None:
    quarantine = QuarantineService(database, most_frames=3)
    await quarantine.keep("BAY-02", b"other", "not JSON", NOON)
    for number in range(5):
        at = NOON + timedelta(seconds=number)
        await quarantine.keep("BAY-01", b"%d" % number, "not JSON", at)
    first = await quarantine.list_frames("BAY-01", limit=2)
    rest = await quarantine.list_frames("BAY-01", after=first.next, limit=2)
    assert [frame.frame for frame in (*first.items, *rest.items)] == [b"4", b"3", b"2"]
    assert [frame.frame for frame in (await quarantine.list_frames("BAY-02")).items] == [b"other"]
    assert len((await quarantine.list_frames()).items) == 4
