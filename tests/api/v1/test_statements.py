"""/v1/statements"""

import hashlib

import httpx

from tests.csms.ledger.small_yard import SITE, SmallYard


async def test_issued_documents_are_listed_shown_and_credited(
    manager: httpx.AsyncClient, small: SmallYard
) -> None:
    await small.january()
    await small.ledger.issuing.issue(SITE, "2026-01")
    listed = (await manager.get("/v1/statements", params={"member": "a", "period": "2026-01"})).json()
    (document,) = listed["items"]
    assert (document["number"], document["gross"], document["kind"]) == ("Y-00001", "27.50", "statement")
    assert (await manager.get(f"/v1/statements/{document['id']}")).json() == document
    content = await manager.get(f"/v1/statements/{document['id']}/content")
    assert hashlib.sha256(content.content).hexdigest() == document["hash"]
    assert content.json()["recipient"]["name"] == "Flat a"
    note = await manager.post(f"/v1/statements/{document['id']}/credit", json={"note": "Card was lent."})
    assert note.status_code == 201, note.text
    assert (note.json()["gross"], note.json()["corrects_id"]) == ("-27.50", document["id"])
    again = await manager.post(f"/v1/statements/{document['id']}/credit")
    assert again.json() == note.json()
    assert (await manager.post(f"/v1/statements/{note.json()['id']}/credit")).status_code == 409
    credits = await manager.get("/v1/statements", params={"kind": "credit_note"})
    assert [each["id"] for each in credits.json()["items"]] == [note.json()["id"]]
    assert (await manager.get("/v1/statements/none/content")).status_code == 404
