"""An address that is asked on a schedule, over http or https.

In the address `{start}` and `{end}` stand for the market day's bounds in UTC as YYYYMMDDhhmm, `{date}`
for the day, `{secret}` for what the file of that name in the data folder's `secrets` holds; with any of
the first three it is asked for today and for tomorrow, which may not be there yet. A redirect may change the
host, never to a scheme that is weaker. Nothing of the answer is taken beyond the largest document.
"""

import asyncio
import logging
import re
from collections.abc import AsyncIterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import ClassVar, Self
from urllib.parse import quote, urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

import httpx

from csms.errors import InvalidInput
from csms.metering.edges import first_instant
from csms.tariffs.document import Fields, text, whole
from csms.tariffs.market.document import LARGEST_BYTES
from csms.tariffs.market.inputs.source import Around, Found, Source, SourceFault

# It writes every address into the log, with the secret in it.
logging.getLogger("httpx").setLevel(logging.WARNING)

TIMEOUT_S = 20.0
MOST_REDIRECTS = 3
ATTEMPTS = 3
MARKET_ZONE = "Europe/Brussels"
LEAST_MINUTES, MOST_MINUTES = 5, 1440
OF_A_DAY = ("{start}", "{end}", "{date}")
NOT_YET = frozenset({400, 404})
_HOLE = re.compile(r"\{[^}]*\}")
_SECRET = re.compile(r"[A-Za-z0-9._-]{1,80}")


@dataclass(frozen=True, slots=True)
class UrlSource(Source):
    """`zone` is the market's, for its days; `secret` the name of a file."""

    kind: ClassVar[str] = "url"
    url: str
    every_minutes: int = 60
    zone: str = MARKET_ZONE
    secret: str | None = None

    @property
    def every_s(self) -> float:
        return self.every_minutes * 60

    @classmethod
    def parse(cls, settings: Mapping[str, object], path: str) -> Self:
        fields = Fields.of(settings, path, ("kind", "url", "every_minutes", "zone", "secret"))
        url = fields.take("url", text(1000))
        parts = urlsplit(_HOLE.sub("0", url))
        if parts.scheme not in ("http", "https") or not parts.hostname or not url.isprintable():
            raise InvalidInput(fields.at("url"), "must be an address that begins with http:// or https://")
        if parts.password is not None:
            raise InvalidInput(fields.at("url"), "must hold no password; use {secret} and a file of secrets")
        for hole in _HOLE.findall(url):
            if hole not in (*OF_A_DAY, "{secret}"):
                raise InvalidInput(fields.at("url"), f"{hole} is none of {', '.join(OF_A_DAY)}, {{secret}}")
        minutes = fields.maybe("every_minutes", whole)
        if minutes is not None and not LEAST_MINUTES <= minutes <= MOST_MINUTES:
            raise InvalidInput(fields.at("every_minutes"), f"must be from {LEAST_MINUTES} to {MOST_MINUTES}")
        zone = fields.maybe("zone", text(64)) or MARKET_ZONE
        try:
            ZoneInfo(zone)
        except (ZoneInfoNotFoundError, ValueError, OSError):
            raise InvalidInput(fields.at("zone"), f"{zone!r} is no zone of the tz database") from None
        secret = fields.maybe("secret", text(80))
        if secret is not None and (not _SECRET.fullmatch(secret) or secret.startswith(".")):
            raise InvalidInput(fields.at("secret"), "must be the name of a file in the data folder's secrets")
        if ("{secret}" in url) != (secret is not None):
            raise InvalidInput(fields.at("secret"), "goes with {secret} in the address; give both or none")
        return cls(url, 60 if minutes is None else minutes, zone, secret)

    async def fetch(self, around: Around) -> AsyncIterator[Found]:
        secret = "" if self.secret is None else await asyncio.to_thread(_secret, around, self.secret)
        days: list[date | None] = [None]
        if any(hole in self.url for hole in OF_A_DAY):
            today = around.now.astimezone(ZoneInfo(self.zone)).date()
            days = [today, today + timedelta(days=1)]
        async with httpx.AsyncClient(timeout=TIMEOUT_S, follow_redirects=False) as client:
            for ahead, day in enumerate(days):
                name = self._filled(day, "…")
                found = await _get(
                    client, self._filled(day, quote(secret, safe="")), name, may_lack=ahead > 0
                )
                if found is not None:
                    yield Found(name, found, may_lack=ahead > 0)

    def _filled(self, day: date | None, secret: str) -> str:
        url = self.url.replace("{secret}", secret)
        if day is not None:
            zone = ZoneInfo(self.zone)
            start, end = first_instant(day, zone), first_instant(day + timedelta(days=1), zone)
            url = url.replace("{start}", f"{start:%Y%m%d%H%M}").replace("{end}", f"{end:%Y%m%d%H%M}")
            url = url.replace("{date}", day.isoformat())
        return url


async def _get(client: httpx.AsyncClient, url: str, name: str, *, may_lack: bool) -> bytes | None:
    """The body. None: not there yet, which is no fault. Tried again at once when the line broke."""
    for attempt in range(1, ATTEMPTS + 1):
        try:
            async with asyncio.timeout(3 * TIMEOUT_S):
                return await _follow(client, url, name, may_lack)
        except (httpx.TransportError, TimeoutError) as error:
            if attempt == ATTEMPTS:
                what = str(error).replace(url, name) or type(error).__name__
                raise SourceFault(f"{name} does not answer: {what[:200]}") from None
        except httpx.InvalidURL as error:
            raise SourceFault(f"{name} is no address: {error}") from None
    raise AssertionError("the last attempt returns or raises")


async def _follow(client: httpx.AsyncClient, url: str, name: str, may_lack: bool) -> bytes | None:
    for _ in range(MOST_REDIRECTS + 1):
        async with client.stream("GET", url) as answer:
            if answer.is_redirect:
                to = answer.url.join(answer.headers["location"])
                if to.scheme not in ("http", "https") or (answer.url.scheme == "https" != to.scheme):
                    raise SourceFault(f"{name} leads to {to.scheme}:, which is not followed")
                url = str(to)
                continue
            if answer.status_code != httpx.codes.OK:
                if may_lack and answer.status_code in NOT_YET:
                    return None
                raise SourceFault(f"{name} answers {answer.status_code} {answer.reason_phrase}")
            body = bytearray()
            async for chunk in answer.aiter_bytes():
                body += chunk
                if len(body) > LARGEST_BYTES:
                    raise SourceFault(f"{name} answers with more than {LARGEST_BYTES} bytes")
            return bytes(body)
    raise SourceFault(f"{name} leads on more than {MOST_REDIRECTS} times")


def _secret(around: Around, name: str) -> str:
    try:
        return (around.secrets / name).read_text(encoding="utf-8").strip()
    except (OSError, UnicodeDecodeError):
        raise SourceFault(f"cannot read the file {name} in the folder of secrets") from None
