"""The TLS contexts of the doors: loaded from a folder, renewed, taken anew without a restart.

In the folder: `root.pem` and `root.key` of our own authority; `server-ec.pem` and `.key`,
`server-rsa.pem` and `.key`, which the doors show; `trusted/*.pem`, further roots of stations. What is
missing is made. Files that somebody else put there are never written over: only what our own root
signed is renewed. The standard asks for two certificates and for four cipher suites, two of them with
RSA key exchange, which OpenSSL leaves out by default (OCPP 2.0.1 A00.FR.3xx).
"""

import logging
import os
import ssl
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

from cryptography import x509

from csms.clock import Clock
from csms.errors import InvalidInput
from csms.security.authority import Issued, LocalAuthority
from csms.security.certificate import Facts, facts, is_due
from csms.stations.security.profile import Way

log = logging.getLogger(__name__)

CIPHERS = ":".join(
    (
        "ECDHE-ECDSA-AES128-GCM-SHA256",
        "ECDHE-ECDSA-AES256-GCM-SHA384",
        "ECDHE-RSA-AES128-GCM-SHA256",
        "ECDHE-RSA-AES256-GCM-SHA384",
        "AES128-GCM-SHA256",
        "AES256-GCM-SHA384",
    )
)
KINDS = ("ec", "rsa")
RENEW_AHEAD = timedelta(days=30)
LOOK_EVERY_S = 3600.0


class TlsFolder:
    """Raises InvalidInput when a file in `folder` cannot be used; the text names it."""

    def __init__(self, folder: Path, clock: Clock, *, names: Sequence[str], organization: str) -> None:
        self._folder = folder
        self._clock = clock
        self._names = tuple(names)
        self._organization = organization
        self._contexts: dict[Way, ssl.SSLContext] = {}
        self._authority: LocalAuthority | None = None

    @property
    def authority(self) -> LocalAuthority:
        """Our own; made when it is first asked for."""
        if self._authority is None:
            self._authority = self._load_authority()
        return self._authority

    def context(self, way: Way) -> ssl.SSLContext:
        """The context of a door; the same object for ever, `reload` changes what it shows."""
        if way not in self._contexts:
            self._contexts[way] = self._new_context(way)
        return self._contexts[way]

    def reload(self) -> None:
        """Take what is in the folder now; sockets that stand keep what they have."""
        for way, context in self._contexts.items():
            self._fill(context, way)

    def renew_due(self) -> tuple[str, ...]:
        """Make anew what our own root signed and what ends soon; the kinds that were."""
        now = self._clock.now()
        due = tuple(kind for kind in KINDS if self._is_due(kind, now))
        for kind in due:
            self._make_server(kind)
        if due:
            self.reload()
        return due

    def shown(self) -> dict[str, Facts]:
        """What the doors show and trust, by name of the file."""
        found = {}
        for path in sorted((*self._folder.glob("*.pem"), *self._folder.glob("trusted/*.pem"))):
            found[path.relative_to(self._folder).as_posix()] = facts(self._read(path))
        return found

    async def watch(self) -> None:
        """Renew what is due, for ever."""
        while True:
            await self._clock.sleep(LOOK_EVERY_S)
            try:
                self.renew_due()
            except (InvalidInput, OSError):
                log.exception("the certificates of the doors could not be renewed; tried again")

    def _new_context(self, way: Way) -> ssl.SSLContext:
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_2
        context.set_ciphers(CIPHERS)
        context.options |= ssl.OP_NO_COMPRESSION | ssl.OP_CIPHER_SERVER_PREFERENCE
        if way is Way.MUTUAL:
            context.verify_mode = ssl.CERT_REQUIRED
        self._fill(context, way)
        return context

    def _fill(self, context: ssl.SSLContext, way: Way) -> None:
        for kind in KINDS:
            if not self._path(kind).exists():
                self._make_server(kind)
            certificate, key = self._path(kind), self._path(kind, "key")
            try:
                context.load_cert_chain(certificate, key)
            except (OSError, ssl.SSLError) as error:
                raise InvalidInput(certificate.name, f"cannot be used with {key.name}: {error}") from error
        if way is Way.MUTUAL:
            context.load_verify_locations(cadata=self.authority.root_pem)
            for path in sorted(self._folder.glob("trusted/*.pem")):
                self._read(path)
                context.load_verify_locations(path)

    def _path(self, kind: str, suffix: str = "pem") -> Path:
        return self._folder / f"server-{kind}.{suffix}"

    def _is_due(self, kind: str, now: datetime) -> bool:
        path = self._path(kind)
        if not path.exists():
            return True
        certificate = self._read(path)
        return certificate.issuer == self.authority.root.subject and is_due(certificate, now, RENEW_AHEAD)

    def _make_server(self, kind: str) -> None:
        issued = self.authority.server(self._names, kind, self._organization, self._clock.now())
        self._write(self._path(kind), self._path(kind, "key"), issued)

    def _load_authority(self) -> LocalAuthority:
        certificate, key = self._folder / "root.pem", self._folder / "root.key"
        if certificate.exists() and key.exists():
            try:
                return LocalAuthority.load(certificate.read_text(), key.read_text())
            except ValueError as error:
                raise InvalidInput("root.pem", f"cannot be used with root.key: {error}") from error
        if certificate.exists() or key.exists():
            raise InvalidInput("root.pem", "root.pem and root.key belong together, and one is missing")
        made = LocalAuthority.make(self._organization, self._clock.now())
        self._write(certificate, key, Issued(made.root_pem, made.root_key_pem))
        return made

    def _write(self, certificate: Path, key: Path, issued: Issued) -> None:
        self._folder.mkdir(parents=True, exist_ok=True)
        for path, text, mode in ((key, issued.key_pem, 0o600), (certificate, issued.chain_pem, 0o644)):
            # Written beside and moved, so that nobody ever reads half a file, nor a key that all can read.
            beside = path.with_suffix(path.suffix + ".new")
            beside.unlink(missing_ok=True)
            with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "w") as file:
                file.write(text)
            beside.replace(path)

    def _read(self, path: Path) -> x509.Certificate:
        try:
            return x509.load_pem_x509_certificate(path.read_bytes())
        except ValueError:
            raise InvalidInput(path.name, "is no certificate in PEM") from None
