"""How a kept document stands to others."""

from datetime import UTC, datetime

from csms.tariffs.market.stored import StoredDocument

CAME = datetime(2026, 1, 15, tzinfo=UTC)


def test_without_a_date_of_its_own_the_arrival_counts() -> None:
    document = StoredDocument(
        id="mpd_1",
        feed_id="mill",
        kind="csv",
        name="prices.csv",
        sha256="0" * 64,
        mrid=None,
        revision=1,
        made_at=None,
        received_at=CAME,
        start=CAME,
        end=CAME,
    )
    assert document.standing.rank == (CAME, CAME, "mpd_1")
