"""A station that can be led to a higher security profile: it holds roots, a key, a certificate, and a
list of doors, and does with them what OCPP 1.6 (security white paper) and 2.0.1 (block A) say.

Every call that it gets is checked against the official schema by the package `ocpp`.
"""

import asyncio
import json
import ssl
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from ocpp.messages import Call, validate_payload
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidStatus
from websockets.typing import Subprotocol

from tests.csms.gateway.stage import basic


class SecureStation:
    """`doors`: port by security profile. `folder`: where its certificate lies, since `ssl` wants files."""

    def __init__(self, version: str, station_id: str, key: str, doors: dict[int, int], folder: Path) -> None:
        self.version, self.station_id, self.key, self.doors = version, station_id, key, doors
        self.profile, self.next_profile = 1, 1
        self.roots = ""
        self.came_by: list[int] = []
        self.refused: list[int] = []
        self.deaf_to = ""
        self.wrong_door = False
        self._folder = folder
        self._slots: dict[str, int] = {}
        self._numbers = count(1)
        self._socket: ClientConnection | None = None
        self._private = ec.generate_private_key(ec.SECP256R1())
        self._switch = False

    async def live(self) -> None:
        """Connect and serve, again and again, until cancelled."""
        while True:
            try:
                await self._visit()
            except InvalidStatus as refusal:
                self.refused.append(refusal.response.status_code)
                self.profile = self.came_by[-1] if self.came_by else 1
            except (OSError, ssl.SSLError, ConnectionClosed, EOFError):
                # It cannot: back to the way that worked.
                self.profile = self.came_by[-1] if self.came_by else 1
            await asyncio.sleep(0.02)

    async def _visit(self) -> None:
        profile = self.profile
        port = 9 if self.wrong_door and profile > 1 else self.doors[profile]
        headers = {}
        if profile < 3:
            password = bytes.fromhex(self.key) if self.version == "1.6" else self.key.encode()
            headers["Authorization"] = basic(self.station_id.encode(), password)
        scheme = "ws" if profile == 1 else "wss"
        async with connect(
            f"{scheme}://localhost:{port}/ocpp/{self.station_id}",
            subprotocols=[Subprotocol(f"ocpp{self.version}")],
            additional_headers=headers,
            ssl=self._context() if profile > 1 else None,
            proxy=None,
        ) as socket:
            self._socket = socket
            self.came_by.append(profile)
            async for text in socket:
                await self._heard(json.loads(text))
                if self._switch:
                    self._switch, self.profile = False, self.next_profile
                    return

    def _context(self) -> ssl.SSLContext:
        context = ssl.create_default_context(cadata=self.roots)
        if self.profile == 3:
            context.load_cert_chain(self._folder / "chain.pem", self._folder / "key.pem")
        return context

    async def _heard(self, frame: list[Any]) -> None:
        if frame[0] != 2:
            return
        _, message_id, action, payload = frame
        await validate_payload(Call(message_id, action, dict(payload)), self.version)
        if action == self.deaf_to:
            self.deaf_to = ""
            assert self._socket is not None
            await self._socket.close()
            return
        answer = self._answer(action, payload)
        await self._send([3, message_id, answer])
        if action in ("ExtendedTriggerMessage", "TriggerMessage") and "Sign" in str(payload):
            await self._send([2, f"own-{next(self._numbers)}", "SignCertificate", self._request()])

    async def _send(self, frame: list[Any]) -> None:
        assert self._socket is not None
        with suppress(ConnectionClosed):
            await self._socket.send(json.dumps(frame))

    def _answer(self, action: str, payload: dict[str, Any]) -> dict[str, Any]:
        match action:
            case "InstallCertificate":
                self.roots += payload["certificate"]
            case "CertificateSigned":
                (self._folder / "chain.pem").write_text(payload["certificateChain"])
                (self._folder / "key.pem").write_bytes(
                    self._private.private_bytes(
                        serialization.Encoding.PEM,
                        serialization.PrivateFormat.PKCS8,
                        serialization.NoEncryption(),
                    )
                )
            case "ChangeConfiguration":
                self._set(payload["key"], payload["value"])
            case "SetVariables":
                results = []
                for each in payload["setVariableData"]:
                    self._set(each["variable"]["name"], each["attributeValue"])
                    told = {"component": each["component"], "variable": each["variable"]}
                    results.append({"attributeStatus": "Accepted", **told})
                return {"setVariableResult": results}
            case "GetVariables":
                return {"getVariableResult": [self._shown(each) for each in payload["getVariableData"]]}
            case "SetNetworkProfile":
                self._slots[str(payload["configurationSlot"])] = payload["connectionData"]["securityProfile"]
            case "Reset":
                self._switch = self.next_profile != self.profile
            case "GetConfiguration":
                return {"configurationKey": [], "unknownKey": payload.get("key", [])}
        return {"status": "Accepted"}

    def _shown(self, asked: dict[str, Any]) -> dict[str, Any]:
        found = {"component": asked["component"], "variable": asked["variable"]}
        if asked["variable"]["name"] == "NetworkConfigurationPriority":
            return {"attributeStatus": "Accepted", "attributeValue": "1", **found}
        return {"attributeStatus": "UnknownVariable", **found}

    def _set(self, name: str, value: str) -> None:
        if name in ("AuthorizationKey", "BasicAuthPassword"):
            self.key = value
        elif name == "SecurityProfile":
            self.next_profile, self._switch = int(value), True
        elif name == "NetworkConfigurationPriority":
            self.next_profile = self._slots[value.split(",")[0]]

    def _request(self) -> dict[str, Any]:
        subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, self.station_id)])
        csr = (
            x509.CertificateSigningRequestBuilder().subject_name(subject).sign(self._private, hashes.SHA256())
        )
        return {"csr": csr.public_bytes(serialization.Encoding.PEM).decode()}
