"""Somebody with a browser that keeps cookies and follows to where it is sent."""

import re
from typing import Any

import httpx
from fastapi import FastAPI

PASSWORD = "warp and weft 1848"
CARD = "04A1B2C3D4E5F6"


class Visitor:
    """Somebody with a browser."""

    def __init__(self, app: FastAPI) -> None:
        transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        self.client = httpx.AsyncClient(
            transport=transport, base_url="http://weavers-yard", follow_redirects=True
        )

    async def get(self, address: str, **more: Any) -> httpx.Response:
        return await self.client.get(address, **more)

    async def sign_in(self, name: str, password: str = PASSWORD, next: str = "/") -> httpx.Response:
        return await self.client.post("/sign-in", data={"name": name, "password": password, "next": next})

    async def form_token(self) -> str:
        """As it stands in the forms of every page."""
        found = re.search(r'name="form_token" value="([^"]+)"', (await self.get("/sites")).text)
        assert found is not None
        return found[1]

    async def send(self, address: str, **fields: str) -> httpx.Response:
        """Fill in a form of the page and send it."""
        return await self.client.post(address, data={"form_token": await self.form_token(), **fields})
