"""An address asked over a real socket: days, secrets, redirects, and everything that goes wrong."""

import asyncio
import contextlib
import logging
from collections.abc import AsyncIterator, Callable
from datetime import UTC, datetime
from pathlib import Path

import pytest

from csms.errors import InvalidInput
from csms.tariffs.market.document import LARGEST_BYTES
from csms.tariffs.market.inputs.source import Around, Found, SourceFault
from csms.tariffs.market.inputs.url import ATTEMPTS, UrlSource

Answer = bytes | Callable[[str], bytes]


def answer(body: bytes = b"", status: str = "200 OK", *headers: str) -> bytes:
    lines = [f"HTTP/1.1 {status}", f"Content-Length: {len(body)}", "Connection: close", *headers, "", ""]
    return "\r\n".join(lines).encode() + body


class Web:
    """A server that answers what a test says, and notes what it was asked."""

    def __init__(self) -> None:
        self.asked: list[str] = []
        self.answer: Answer = answer()
        self.port = 0

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    async def serve(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        head = await reader.readuntil(b"\r\n\r\n")
        path = head.split(b" ", 2)[1].decode()
        self.asked.append(path)
        told = self.answer(path) if callable(self.answer) else self.answer
        writer.write(told)
        with contextlib.suppress(ConnectionError):  # the client may have had enough
            await writer.drain()
        writer.close()


@pytest.fixture
async def web(monkeypatch: pytest.MonkeyPatch) -> AsyncIterator[Web]:
    for name in ("http_proxy", "HTTP_PROXY", "all_proxy", "ALL_PROXY"):
        monkeypatch.delenv(name, raising=False)
    web = Web()
    server = await asyncio.start_server(web.serve, "127.0.0.1", 0)
    web.port = server.sockets[0].getsockname()[1]
    yield web
    server.close()
    await server.wait_closed()


async def fetch(tmp_path: Path, url: str, **settings: object) -> list[Found]:
    now = datetime(2026, 3, 28, 23, 30, tzinfo=UTC)  # 29 March in Brussels
    around = Around(prices=tmp_path / "prices", secrets=tmp_path / "secrets", now=now)
    source = UrlSource.parse({"kind": "url", "url": url, **settings}, "source")
    return [found async for found in source.fetch(around)]


async def test_a_plain_address(web: Web, tmp_path: Path) -> None:
    web.answer = answer(b"<a/>")
    assert await fetch(tmp_path, f"{web.url}/day?x=1") == [Found(f"{web.url}/day?x=1", b"<a/>")]
    assert web.asked == ["/day?x=1"]


async def test_today_and_tomorrow_with_a_secret(
    web: Web, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """29 March 2026 has 23 hours; what stands in a file of secrets is sent and never shown."""
    (tmp_path / "secrets").mkdir()
    (tmp_path / "secrets" / "market").write_text("a b&c\n")
    web.answer = answer(b"x")
    caplog.set_level(logging.INFO)
    found = await fetch(
        tmp_path, f"{web.url}/{{date}}?from={{start}}&to={{end}}&key={{secret}}", secret="market"
    )
    assert web.asked == [
        "/2026-03-29?from=202603282300&to=202603292200&key=a%20b%26c",
        "/2026-03-30?from=202603292200&to=202603302200&key=a%20b%26c",
    ]
    assert [each.may_lack for each in found] == [False, True]
    assert found[0].name == f"{web.url}/2026-03-29?from=202603282300&to=202603292200&key=…"
    assert "a%20b" not in caplog.text


async def test_tomorrow_may_not_be_there_yet(web: Web, tmp_path: Path) -> None:
    web.answer = lambda path: answer(b"x") if "29" in path else answer(b"", "404 Not Found")
    assert len(await fetch(tmp_path, f"{web.url}/{{date}}")) == 1
    web.answer = answer(b"", "404 Not Found")
    with pytest.raises(SourceFault, match="answers 404 Not Found"):
        await fetch(tmp_path, f"{web.url}/{{date}}")


async def test_redirects_within_http(web: Web, tmp_path: Path) -> None:
    web.answer = lambda path: answer(b"x") if path == "/b" else answer(b"", "302 Found", "Location: /b")
    assert [each.raw for each in await fetch(tmp_path, f"{web.url}/a")] == [b"x"]
    web.answer = answer(b"", "302 Found", "Location: /a")
    with pytest.raises(SourceFault, match="leads on more than 3 times"):
        await fetch(tmp_path, f"{web.url}/a")


@pytest.mark.parametrize("to", ["file:///etc/hostname", "ftp://127.0.0.1/x"])
async def test_a_redirect_to_another_scheme_is_not_followed(web: Web, tmp_path: Path, to: str) -> None:
    web.answer = answer(b"", "302 Found", f"Location: {to}")
    with pytest.raises(SourceFault, match="which is not followed"):
        await fetch(tmp_path, f"{web.url}/a")


async def test_too_much_is_not_taken(web: Web, tmp_path: Path) -> None:
    web.answer = answer(b"x" * (LARGEST_BYTES + 1))
    with pytest.raises(SourceFault, match="answers with more than 4000000 bytes"):
        await fetch(tmp_path, web.url)


async def test_a_broken_line_is_tried_again(web: Web, tmp_path: Path) -> None:
    web.answer = lambda _: answer(b"x") if len(web.asked) == ATTEMPTS else b""
    assert [each.raw for each in await fetch(tmp_path, web.url)] == [b"x"]
    web.answer = b""
    with pytest.raises(SourceFault, match="does not answer"):
        await fetch(tmp_path, web.url)
    assert len(web.asked) == 2 * ATTEMPTS


async def test_a_secret_that_is_not_there(web: Web, tmp_path: Path) -> None:
    with pytest.raises(SourceFault, match="cannot read the file market in the folder of secrets"):
        await fetch(tmp_path, f"{web.url}/{{secret}}", secret="market")
    assert web.asked == []


@pytest.mark.parametrize(
    ("settings", "problem"),
    [
        ({"url": "ftp://x/y"}, "source.url: must be an address that begins with http"),
        ({"url": "http:///y"}, "source.url: must be an address"),
        ({"url": "https://me:pw@x/y"}, "source.url: must hold no password"),
        ({"url": "https://x/{day}"}, "source.url: {day} is none of"),
        ({"url": "https://x/{secret}"}, "source.secret: goes with {secret} in the address"),
        ({"url": "https://x/y", "secret": "k"}, "source.secret: goes with"),
        ({"url": "https://x/{secret}", "secret": "../k"}, "source.secret: must be the name of a file"),
        ({"url": "https://x/y", "every_minutes": 1}, "source.every_minutes: must be from 5 to 1440"),
        ({"url": "https://x/y", "zone": "Mars"}, "source.zone: 'Mars' is no zone"),
        ({}, "source.url: missing"),
    ],
)
def test_what_is_wrong_is_named(settings: dict[str, object], problem: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        UrlSource.parse({"kind": "url", **settings}, "source")
    assert str(caught.value).startswith(problem)
