"""The doors with TLS, with real sockets: security profiles 2 and 3 of OCPP, and who is refused."""

import ssl
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from websockets.asyncio.client import ClientConnection, connect
from websockets.exceptions import ConnectionClosed, InvalidHandshake, InvalidMessage, InvalidStatus
from websockets.typing import Subprotocol

from csms.clock import ManualClock
from csms.gateway.server import Door, GatewaySettings
from csms.security.authority import LocalAuthority, key_pem, read_request
from csms.security.tls_service import TlsFolder
from csms.stations.credentials import store_key
from csms.stations.security.profile import Profile, Standing, Way
from tests.csms.gateway.stage import Known, Stage, basic

KEY = "spindle-and-shuttle"
STATION = "BAY-01"
YARD = "Weavers' Yard"


@pytest.fixture
async def folder(tmp_path: Path) -> TlsFolder:
    # OpenSSL looks at the machine's clock, whatever ours says.
    clock = ManualClock(datetime.now(UTC))
    return TlsFolder(tmp_path / "tls", clock, names=("127.0.0.1",), organization=YARD)


@pytest.fixture
async def secure(clock: ManualClock, folder: TlsFolder) -> AsyncIterator[Stage]:
    doors = tuple(Door(way, 0, folder.context(way)) for way in (Way.TLS, Way.MUTUAL))
    stage = Stage(clock, GatewaySettings(organization=YARD), doors)
    await stage.gateway.open()
    yield stage
    await stage.gateway.close()


def trusting(folder: TlsFolder, ciphers: str = "") -> ssl.SSLContext:
    """A station's context: it knows our root."""
    context = ssl.create_default_context(cadata=folder.authority.root_pem)
    if ciphers:
        context.maximum_version = ssl.TLSVersion.TLSv1_2
        context.set_ciphers(ciphers)
    return context


@asynccontextmanager
async def come(
    stage: Stage, way: Way, context: ssl.SSLContext | None, password: str | None = None
) -> AsyncIterator[ClientConnection]:
    headers = {} if password is None else {"Authorization": basic(STATION.encode(), password.encode())}
    scheme = "ws" if way is Way.PLAIN else "wss"
    async with connect(
        f"{scheme}://127.0.0.1:{stage.gateway.port_of(way)}/ocpp/{STATION}",
        subprotocols=[Subprotocol("ocpp1.6")],
        additional_headers=headers,
        ssl=context,
        proxy=None,
    ) as socket:
        yield socket


async def is_served(socket: ClientConnection) -> bool:
    await socket.send('[2,"1","Heartbeat",{}]')
    return str(await socket.recv()).startswith('[3,"1"')


@pytest.mark.parametrize(
    ("suite", "kind"),
    [
        ("ECDHE-ECDSA-AES128-GCM-SHA256", "EC"),
        ("ECDHE-ECDSA-AES256-GCM-SHA384", "EC"),
        ("AES128-GCM-SHA256", "RSA"),
        ("AES256-GCM-SHA384", "RSA"),
        ("", "EC"),
    ],
)
async def test_profile_2_by_every_suite_of_the_standard(
    secure: Stage, folder: TlsFolder, suite: str, kind: str
) -> None:
    secure.yard.add(STATION, key=KEY)
    async with come(secure, Way.TLS, trusting(folder, suite), KEY) as socket:
        assert await is_served(socket)
        session: ssl.SSLObject = socket.transport.get_extra_info("ssl_object")
        if suite:
            assert session.cipher() == (suite, "TLSv1.2", 256 if "256-GCM" in suite else 128)
        shown = session.getpeercert(binary_form=True)
        assert shown is not None
        assert type(x509.load_der_x509_certificate(shown).public_key()).__name__.startswith(kind)
    assert secure.yard.known[STATION].standing == Standing(Profile.KEY_OVER_TLS)


async def test_profile_2_needs_the_key(secure: Stage, folder: TlsFolder) -> None:
    secure.yard.add(STATION, key=KEY)
    with pytest.raises(InvalidStatus) as refusal:
        async with come(secure, Way.TLS, trusting(folder), "wrong"):
            pass
    assert refusal.value.response.status_code == 401
    secure.yard.add(STATION)
    with pytest.raises(InvalidStatus) as refusal:
        async with come(secure, Way.TLS, trusting(folder)):
            pass
    assert refusal.value.response.status_code == 403


def station_context(
    folder: TlsFolder,
    tmp_path: Path,
    *,
    name: str = STATION,
    authority: LocalAuthority | None = None,
    organization: str = YARD,
    days: float = 30,
) -> ssl.SSLContext:
    """A station with a certificate of `authority` (ours when None)."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    csr = x509.CertificateSigningRequestBuilder().subject_name(subject).sign(key, hashes.SHA256())
    text = csr.public_bytes(serialization.Encoding.PEM).decode()
    signer = authority or folder.authority
    now = datetime.now(UTC) - timedelta(days=60)
    issued = signer.station(
        read_request(text, [name]), organization, now, timedelta(days=60) + timedelta(days=days)
    )
    chain, secret = tmp_path / "station.pem", tmp_path / "station.key"
    chain.write_text(issued.chain_pem)
    secret.write_text(key_pem(key))
    context = trusting(folder)
    context.load_cert_chain(chain, secret)
    return context


async def test_profile_3_with_a_good_certificate_needs_no_key(
    secure: Stage, folder: TlsFolder, tmp_path: Path
) -> None:
    secure.yard.add(STATION, key=KEY)
    async with come(secure, Way.MUTUAL, station_context(folder, tmp_path, name=f"wy-{STATION}")) as socket:
        assert await is_served(socket)
    assert secure.yard.known[STATION].standing == Standing(Profile.CERTIFICATE)


@pytest.mark.parametrize(
    "wrong", [{"name": "BAY-02"}, {"organization": "Dye works"}], ids=["another name", "another organization"]
)
async def test_profile_3_with_the_certificate_of_another_is_refused(
    secure: Stage, folder: TlsFolder, tmp_path: Path, wrong: dict[str, Any]
) -> None:
    secure.yard.add(STATION)
    with pytest.raises(InvalidStatus) as refusal:
        async with come(secure, Way.MUTUAL, station_context(folder, tmp_path, **wrong)):
            pass
    assert refusal.value.response.status_code == 403


@pytest.mark.parametrize("wrong", ["foreign", "expired", "none"])
async def test_profile_3_with_a_foreign_an_expired_or_no_certificate_ends_in_tls(
    secure: Stage, folder: TlsFolder, tmp_path: Path, wrong: str
) -> None:
    secure.yard.add(STATION)
    context = trusting(folder)
    if wrong == "foreign":
        other = LocalAuthority.make(YARD, datetime.now(UTC) - timedelta(days=90))
        context = station_context(folder, tmp_path, authority=other)
    elif wrong == "expired":
        context = station_context(folder, tmp_path, days=-1)
    # With TLS 1.3 a client learns of it only when it reads.
    with pytest.raises((ssl.SSLError, OSError, ConnectionClosed, InvalidMessage, InvalidHandshake, EOFError)):
        async with come(secure, Way.MUTUAL, context) as socket:
            await is_served(socket)
    assert len(secure.registry) == 0


async def test_there_is_no_way_back_down(secure: Stage) -> None:
    secure.yard.add(STATION, key=KEY)
    known = secure.yard.known[STATION]
    secure.yard.known[STATION] = Known(
        known.station_id, key=known.key, standing=Standing(Profile.KEY_OVER_TLS)
    )
    with pytest.raises(InvalidStatus) as refusal:
        async with come(secure, Way.PLAIN, None, KEY):
            pass
    assert refusal.value.response.status_code == 403
    assert b"security profile 2" in refusal.value.response.body


async def test_old_tls_is_refused(secure: Stage, folder: TlsFolder) -> None:
    secure.yard.add(STATION, key=KEY)
    context = trusting(folder)
    context.set_ciphers("ALL:@SECLEVEL=0")
    with pytest.warns(DeprecationWarning, match="TLSv1_1"):
        context.minimum_version = context.maximum_version = ssl.TLSVersion.TLSv1_1
    with pytest.raises((ssl.SSLError, OSError)):
        async with come(secure, Way.TLS, context, KEY):
            pass


async def test_a_new_certificate_is_shown_without_a_restart(secure: Stage, folder: TlsFolder) -> None:
    secure.yard.add(STATION, key=KEY)

    async def shown() -> int:
        async with come(secure, Way.TLS, trusting(folder), KEY) as socket:
            session: ssl.SSLObject = socket.transport.get_extra_info("ssl_object")
            certificate = session.getpeercert(binary_form=True)
            assert certificate is not None
            return x509.load_der_x509_certificate(certificate).serial_number

    before = await shown()
    folder._make_server("ec")
    folder.reload()
    assert await shown() != before


async def test_the_key_that_was_sent_takes_the_place_of_the_old_one(stage: Stage) -> None:
    new = store_key("warp-and-weft-1234", b"salt of the yard")
    stage.yard.add(STATION, key=KEY)
    known = stage.yard.known[STATION]
    stage.yard.known[STATION] = Known(known.station_id, key=known.key, next_key=new)
    async with come(stage, Way.PLAIN, None, KEY) as socket:
        assert await is_served(socket), "until it comes by the new one the old one is right"
    async with come(stage, Way.PLAIN, None, "warp-and-weft-1234") as socket:
        assert await is_served(socket)
    with pytest.raises(InvalidStatus) as refusal:
        async with come(stage, Way.PLAIN, None, KEY):
            pass
    assert refusal.value.response.status_code == 401


async def test_who_is_wrong_too_often_waits(stage: Stage, clock: ManualClock) -> None:
    stage.yard.add(STATION, key=KEY)

    async def status(password: str) -> int:
        try:
            async with come(stage, Way.PLAIN, None, password):
                return 101
        except InvalidStatus as refusal:
            return refusal.response.status_code

    assert [await status(f"wrong key number {n}") for n in range(10)] == [401] * 10
    assert await status(KEY) == 429, "also the right one: it may be a guess"
    clock.advance(601)
    assert await status(KEY) == 101
