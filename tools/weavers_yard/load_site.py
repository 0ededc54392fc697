"""Puts the description of a site into a running server, by REST as a partner would."""

import re
from typing import Any

import httpx

from tools.weavers_yard.site import Bay, Site

ISSUER = {
    "name": "Weavers' Yard housing association",
    "address": ["Mill Lane 1", "Weirbrook"],
    "country": "NL",
    "payment_to": "the account named in your lease",
}
"""An invented association, not registered for VAT."""


class Loader:
    """`client` has the server's address and a manager's key. Ids are made of the names."""

    def __init__(self, client: httpx.AsyncClient, site: Site) -> None:
        self._client = client
        self._site = site
        self.site_id = slug(site.name)

    async def load(self, first_month: str) -> None:
        """Everything of the site, then its activation; it bills from `first_month` (YYYY-MM) on.

        Raises RuntimeError with the server's words.
        """
        site = self._site
        head = {"id": self.site_id, "name": site.name, "time_zone": site.time_zone}
        await self._post("/v1/sites", {**head, "currency": site.currency, "system": site.system})
        for circuit in site.circuits:
            await self._post(
                "/v1/circuits",
                {
                    "id": slug(circuit.name),
                    "site_id": self.site_id,
                    "name": circuit.name,
                    "fed_from": slug(circuit.fed_from) if circuit.fed_from else None,
                    "limit_a": circuit.limit_a,
                    "worst_base_a": circuit.worst_base_a,
                    "meter": {"counts": "base", "period_s": 10} if circuit.fed_from is None else None,
                },
            )
        for bay in site.bays:
            await self._station(bay)
        await self._people()
        for tariff in site.tariffs:
            await self._tariff(tariff)
        await self._send(
            "PUT", f"/v1/billing/sites/{self.site_id}", {"issuer": ISSUER, "first_month": first_month}
        )
        await self._send("PATCH", f"/v1/sites/{self.site_id}", {"active": True})

    async def _station(self, bay: Bay) -> None:
        body = {
            "id": bay.identity,
            "name": bay.name,
            "site_id": self.site_id,
            "circuit_id": slug(bay.circuit),
            "wiring": list(bay.lines),
            "max_current_a": bay.max_current_a,
            "step_a": bay.step_a,
            "fallback_a": bay.fallback_a,
        }
        await self._post("/v1/stations", body)
        await self._post(f"/v1/stations/{bay.identity}/key", {"key": bay.password})

    async def _people(self) -> None:
        site = self._site
        for group in site.groups:
            body = {"id": slug(group.name), "site_id": self.site_id, "name": group.name}
            await self._post("/v1/groups", {**body, "priority": group.priority})
        for member in site.members:
            body = {"id": slug(member.name), "site_id": self.site_id, "name": member.name}
            await self._post("/v1/members", {**body, "kind": member.kind.value})
            if member.group is not None:
                await self._send("PUT", f"/v1/groups/{slug(member.group)}/members/{slug(member.name)}")
        for card in site.cards:
            body = {"text": card.uid, "member_id": slug(card.member), "label": card.label}
            token = await self._post("/v1/tokens", body)
            if card.blocked:
                await self._send("POST", f"/v1/tokens/{token['id']}/block")
        for right in site.rights:
            for station in right.stations:
                body = {"site_id": self.site_id, "group_id": slug(right.group), "station_id": station}
                await self._post("/v1/rights", body)

    async def _tariff(self, document: dict[str, Any]) -> None:
        name = str(document["tariff_alt_text"][0]["text"])
        key = slug(str(document["id"]))
        await self._post(
            "/v1/tariffs", {"id": key, "site_id": self.site_id, "name": name, "document": document}
        )
        for group in self._site.groups:
            if group.tariff == document["id"]:
                body = {"site_id": self.site_id, "group_id": slug(group.name)}
                await self._post(f"/v1/tariffs/{key}/assignments", body)

    async def _post(self, path: str, body: dict[str, Any]) -> dict[str, Any]:
        return await self._send("POST", path, body)

    async def _send(self, method: str, path: str, body: dict[str, Any] | None = None) -> dict[str, Any]:
        answer = await self._client.request(method, path, json=body)
        if answer.is_error:
            raise RuntimeError(f"{method} {path}: {answer.status_code} {answer.text}")
        found: dict[str, Any] = answer.json() if answer.content else {}
        return found


def slug(name: str) -> str:
    """`Weavers' Yard` becomes `weavers-yard`."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower().replace("'", "")).strip("-")
