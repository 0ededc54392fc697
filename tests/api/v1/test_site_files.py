"""Site files over REST."""

from pathlib import Path

import httpx

TEXT = Path("tools/weavers_yard/weavers-yard.yaml").read_text()
YAML = {"content-type": "application/yaml"}


async def test_a_file_is_taken_in_and_given_out(manager: httpx.AsyncClient) -> None:
    done = await manager.post("/v1/sites/import", content=TEXT, headers=YAML)
    assert done.status_code == 200, done.text
    answer = done.json()
    assert (answer["site_id"], len(answer["touched"]), answer["untouched"]) == ("weavers-yard", 28, [])
    assert {each["severity"] for each in answer["findings"]} == {"hint", "note"}
    assert (await manager.get("/v1/circuits/mill-board")).json()["limit_a"] == {
        "L1": 40.0,
        "L2": 40.0,
        "L3": 40.0,
    }
    out = await manager.get("/v1/sites/weavers-yard/export")
    assert (out.status_code, out.headers["content-type"].split(";")[0]) == (200, "application/yaml")
    again = await manager.post("/v1/sites/import", content=out.content, headers=YAML)
    assert again.json()["touched"] == []


async def test_every_fault_is_told_with_line_and_column(manager: httpx.AsyncClient) -> None:
    text = TEXT.replace("worst_base_a: 22", "worst_base_a: -1").replace(
        "wiring: [L2, L3, L1]", "wiring: [L4]", 1
    )
    refused = await manager.post("/v1/sites/import", content=text, headers=YAML)
    assert refused.status_code == 422
    assert [(each["field"], each["problem"].split(":")[0]) for each in refused.json()["errors"]] == [
        ("16:19", "circuits[0].worst_base_a"),
        ("38:14", "stations[1].wiring[0]"),
    ]
    assert (await manager.get("/v1/sites/weavers-yard")).status_code == 404
    bad = await manager.post("/v1/sites/import", content=b"\xff", headers=YAML)
    assert (bad.status_code, bad.json()["field"]) == (422, "body")


async def test_who_may(reader: httpx.AsyncClient, stranger: httpx.AsyncClient) -> None:
    assert (await reader.post("/v1/sites/import", content=TEXT)).status_code == 403
    assert (await stranger.post("/v1/sites/import", content=TEXT)).status_code == 401
    assert (await reader.get("/v1/sites/nowhere/export")).status_code == 404
