"""Events over REST."""

from typing import Any

import httpx


async def test_what_was_done_is_told_newest_first(
    manager: httpx.AsyncClient, reader: httpx.AsyncClient, flat: dict[str, Any]
) -> None:
    await manager.patch("/v1/members/flat-12", json={"active": False})
    page = (await reader.get("/v1/events?site=weavers-yard")).json()
    assert [event["topic"] for event in page["items"]] == ["member.changed", "member.changed", "site.created"]
    newest = page["items"][0]
    assert newest["subject"] == "flat-12"
    assert newest["at"] == "2026-11-02T11:00:00Z"
    assert newest["body"]["active"] is False
    members = (await reader.get("/v1/events?topic=member.&limit=1")).json()
    assert members["items"] == [newest]
    rest = (await reader.get("/v1/events", params={"topic": "member.", "after": members["next"]})).json()
    assert [event["id"] for event in rest["items"]] == [page["items"][1]["id"]]
    assert rest["next"] is None


async def test_a_cursor_or_topic_that_cannot_be_is_refused(reader: httpx.AsyncClient) -> None:
    assert (await reader.get("/v1/events?after=12")).json()["field"] == "after"
    assert (await reader.get("/v1/events?topic=%25")).json()["field"] == "topic"
