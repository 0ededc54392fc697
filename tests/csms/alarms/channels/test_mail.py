"""Mail to a real SMTP server in this process (aiosmtpd)."""

import asyncio
from collections.abc import AsyncIterator
from email import message_from_bytes, policy
from typing import Any

import pytest
from aiosmtpd.smtp import SMTP

from csms.alarms.channels import Letter
from csms.alarms.channels.mail import MailChannel
from csms.clock import ManualClock
from csms.errors import InvalidInput, MessageFault

LETTER = Letter(
    id="alarm-5-9",
    address="caretaker@weavers.example",
    secret="",
    subject="Urgent: Hof 7: zu heiß (Weavers' Yard)",
    text="Hof 7 steht: größer als 90 °C\n",
    body={},
)


class Postbox:
    """Keeps what it is sent; refuses one address."""

    def __init__(self) -> None:
        self.mail: list[bytes] = []

    async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: Any) -> str:
        if address.startswith("nobody@"):
            return "550 no such mailbox"
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
        self.mail.append(envelope.content)
        return "250 OK"


@pytest.fixture
async def postbox() -> AsyncIterator[tuple[Postbox, str]]:
    box = Postbox()
    loop = asyncio.get_running_loop()
    server = await loop.create_server(lambda: SMTP(box, loop=loop), "127.0.0.1", 0)
    yield box, f"smtp://127.0.0.1:{server.sockets[0].getsockname()[1]}"
    server.close()


async def test_a_letter_arrives_with_its_umlauts(postbox: tuple[Postbox, str], clock: ManualClock) -> None:
    box, url = postbox
    await MailChannel(url, "phaseyard@weavers.example", clock).send(LETTER)
    mail = message_from_bytes(box.mail[-1], policy=policy.default)
    assert mail["Subject"] == LETTER.subject
    assert (mail["To"], mail["From"]) == (LETTER.address, "phaseyard@weavers.example")
    assert mail.get_content().strip() == LETTER.text.strip()
    assert "alarm-5-9" in mail["Message-ID"]
    assert mail["Date"].datetime == clock.now()


async def test_a_refusal_says_what_the_server_said(postbox: tuple[Postbox, str], clock: ManualClock) -> None:
    channel = MailChannel(postbox[1], "phaseyard@weavers.example", clock)
    letter = Letter(id="1", address="nobody@weavers.example", secret="", subject="s", text="t", body={})
    with pytest.raises(MessageFault, match="no such mailbox"):
        await channel.send(letter)


async def test_no_server_is_said(clock: ManualClock) -> None:
    with pytest.raises(MessageFault, match="smtp_url"):
        await MailChannel("", "", clock).send(LETTER)
    with pytest.raises(MessageFault, match=r"127\.0\.0\.1 did not take it"):
        await MailChannel("smtp://127.0.0.1:9", "phaseyard@weavers.example", clock).send(LETTER)


@pytest.mark.parametrize(
    ("url", "sender", "field"),
    [
        ("http://post.weavers.example", "a@weavers.example", "smtp_url"),
        ("smtp://", "a@weavers.example", "smtp_url"),
        ("smtp://h:99999", "a@weavers.example", "smtp_url"),
        ("smtp://post.weavers.example", "", "mail_from"),
    ],
)
def test_a_wrong_setting_is_named(url: str, sender: str, field: str, clock: ManualClock) -> None:
    with pytest.raises(InvalidInput) as caught:
        MailChannel(url, sender, clock)
    assert caught.value.field == field
