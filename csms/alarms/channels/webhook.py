"""Alarms to a program: an HTTP POST, signed as the Standard Webhooks specification says.

The address comes from people, so it is looked up first and only called where it is public: a
server must not be made to talk to what only it can reach. Redirects are not followed.
"""

import asyncio
import ipaddress
import socket
from urllib.parse import urlsplit

import httpx
import orjson
from standardwebhooks import Webhook

from csms.alarms.channels import Letter
from csms.clock import Clock
from csms.errors import MessageFault

TIMEOUT_S = 10.0


class WebhookChannel:
    """`private`: addresses of the own network may be called as well."""

    def __init__(self, clock: Clock, *, private: bool = False, verify: bool | str = True) -> None:
        self._clock = clock
        self._private = private
        self._verify = verify

    async def send(self, letter: Letter) -> None:
        parts = urlsplit(letter.address)
        host = parts.hostname or ""
        port = parts.port or (443 if parts.scheme == "https" else 80)
        target = await self._looked_up(host, port)
        data = orjson.dumps(letter.body).decode()
        now = self._clock.now()
        headers = {
            "Host": parts.netloc,
            "Content-Type": "application/json",
            "User-Agent": "Phaseyard",
            "webhook-id": letter.id,
            "webhook-timestamp": str(int(now.timestamp())),
            "webhook-signature": Webhook(letter.secret).sign(letter.id, now, data),
        }
        shown = f"[{target}]" if ":" in target else target
        url = parts._replace(netloc=f"{shown}:{port}").geturl()
        try:
            async with httpx.AsyncClient(timeout=TIMEOUT_S, verify=self._verify, trust_env=False) as client:
                # The address that was looked up is called, not the name again: it could change between.
                answer = await client.post(
                    url, content=data, headers=headers, extensions={"sni_hostname": host}
                )
        except (httpx.HTTPError, httpx.InvalidURL) as error:
            raise MessageFault(f"{host} could not be reached: {error or type(error).__name__}") from error
        if not answer.is_success:
            raise MessageFault(f"{host} answered {answer.status_code}")

    async def _looked_up(self, host: str, port: int) -> str:
        loop = asyncio.get_running_loop()
        try:
            found = await loop.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        except (OSError, UnicodeError) as error:
            raise MessageFault(f"{host} is not known: {error}") from error
        addresses = [str(each[4][0]) for each in found]
        if not self._private:
            for address in addresses:
                if not ipaddress.ip_address(address.partition("%")[0]).is_global:
                    raise MessageFault(f"{host} is an address of a private network; see private_webhooks")
        return addresses[0]
