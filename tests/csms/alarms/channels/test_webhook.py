"""Webhooks to a real HTTP server; the signature is checked by the specification's own library."""

import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest
from standardwebhooks import Webhook

from csms.alarms.channels import Letter
from csms.alarms.channels.webhook import WebhookChannel
from csms.clock import SystemClock
from csms.errors import MessageFault

SECRET = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"  # made up for this test


class Receiver(BaseHTTPRequestHandler):
    seen: list[tuple[str, dict[str, str], bytes]]

    def do_POST(self) -> None:
        data = self.rfile.read(int(self.headers["Content-Length"]))
        self.seen.append((self.path, dict(self.headers), data))
        if self.path == "/away":
            self.send_response(302)
            self.send_header("Location", "/elsewhere")
        else:
            self.send_response(503 if self.path == "/broken" else 204)
        self.end_headers()

    def log_message(self, format: str, *args: object) -> None:
        """Say nothing."""


@pytest.fixture
def receiver() -> Iterator[str]:
    Receiver.seen = []
    server = ThreadingHTTPServer(("127.0.0.1", 0), Receiver)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    yield f"http://localhost:{server.server_port}"
    server.shutdown()
    server.server_close()
    thread.join()


def letter(address: str) -> Letter:
    body = {"type": "alarm.raised", "data": {"id": 5, "title": "Zu heiß"}}
    return Letter(id="alarm-5-9", address=address, secret=SECRET, subject="s", text="t", body=body)


async def test_what_arrives_is_signed(receiver: str) -> None:
    await WebhookChannel(SystemClock(), private=True).send(letter(f"{receiver}/hook?place=yard"))
    ((path, headers, data),) = Receiver.seen
    assert path == "/hook?place=yard"
    assert headers["Host"].startswith("localhost:")
    told = Webhook(SECRET).verify(data, headers)
    assert told["data"]["title"] == "Zu heiß"
    assert headers["webhook-id"] == "alarm-5-9"


@pytest.mark.parametrize(("path", "says"), [("/broken", "answered 503"), ("/away", "answered 302")])
async def test_an_answer_other_than_yes_is_a_fault(receiver: str, path: str, says: str) -> None:
    with pytest.raises(MessageFault, match=says):
        await WebhookChannel(SystemClock(), private=True).send(letter(receiver + path))
    assert len(Receiver.seen) == 1, "a redirect is not followed"


async def test_an_address_of_the_own_network_is_not_called(receiver: str) -> None:
    with pytest.raises(MessageFault, match="private_webhooks"):
        await WebhookChannel(SystemClock()).send(letter(receiver))
    assert Receiver.seen == []


async def test_nobody_there_and_no_such_name() -> None:
    channel = WebhookChannel(SystemClock(), private=True)
    with pytest.raises(MessageFault, match="could not be reached"):
        await channel.send(letter("http://127.0.0.1:9/"))
    with pytest.raises(MessageFault, match="is not known"):
        await channel.send(letter("http://no-such-host.invalid/"))
