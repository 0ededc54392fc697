"""The REST interface as a partner uses it: JSON in, JSON out, every problem an error that says all."""

import asyncio
from collections.abc import Awaitable, Callable
from typing import Any, TypeVar

import httpx

T = TypeVar("T")
Json = dict[str, Any]


class Rest:
    """`url` without /v1; `key` as `phaseyard key create` prints it. `async with` it."""

    def __init__(self, url: str, key: str) -> None:
        headers = {"Authorization": f"Bearer {key}"}
        self.client = httpx.AsyncClient(base_url=f"{url}/v1", headers=headers, timeout=30)

    async def __aenter__(self) -> "Rest":
        return self

    async def __aexit__(self, *_: object) -> None:
        await self.client.aclose()

    async def answer(self, method: str, path: str, body: object = None) -> httpx.Response:
        """Whatever comes back, problems too."""
        return await self.client.request(method, path, json=body)

    async def send(self, method: str, path: str, body: object = None) -> Json:
        answer = await self.answer(method, path, body)
        assert answer.is_success, f"{method} {path}: {answer.status_code} {answer.text}"
        found: Json = answer.json() if answer.content else {}
        return found

    async def get(self, path: str) -> Json:
        return await self.send("GET", path)

    async def post(self, path: str, body: object = None) -> Json:
        return await self.send("POST", path, body)

    async def every(self, path: str) -> list[Json]:
        """All items of all pages, the cursor followed to its end."""
        items: list[Json] = []
        after: str | None = None
        while True:
            joint = "&" if "?" in path else "?"
            page = await self.get(path if after is None else f"{path}{joint}after={after}")
            items += page["items"]
            after = page.get("next")
            if after is None:
                return items

    async def sessions(self, station_id: str) -> list[Json]:
        """All sessions of a station, the oldest first."""
        return (await self.every(f"/sessions?station={station_id}"))[::-1]


async def until(ask: Callable[[], Awaitable[T | None]], what: str, timeout_s: float = 15) -> T:
    """Ask again and again until there is an answer; what follows a commit follows it soon."""
    try:
        async with asyncio.timeout(timeout_s):
            while True:
                if (found := await ask()) is not None:
                    return found
                await asyncio.sleep(0.05)
    except TimeoutError:
        raise AssertionError(f"not within {timeout_s} s: {what}") from None
