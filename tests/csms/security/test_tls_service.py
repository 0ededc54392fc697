"""The folder behind the doors."""

import ssl
from datetime import timedelta
from pathlib import Path

import pytest

from csms.clock import ManualClock
from csms.errors import InvalidInput
from csms.security.authority import LocalAuthority
from csms.security.tls_service import CIPHERS, TlsFolder
from csms.stations.security.profile import Way

DAY_S = 86_400.0


def test_what_is_missing_is_made_and_keys_are_ours_alone(folder: TlsFolder, tmp_path: Path) -> None:
    folder.context(Way.TLS)
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        *("root.key", "root.pem", "server-ec.key", "server-ec.pem", "server-rsa.key", "server-rsa.pem")
    ]
    for path in tmp_path.glob("*.key"):
        assert path.stat().st_mode & 0o077 == 0, f"{path.name} can be read by others"
    assert folder.shown()["server-ec.pem"].common_name == "yard.weavers.example"


def test_the_suites_of_the_standard_are_offered(folder: TlsFolder) -> None:
    """OCPP 2.0.1 A00: four suites; TLS 1.1 and older are refused."""
    context = folder.context(Way.MUTUAL)
    names = {cipher["name"] for cipher in context.get_ciphers()}
    assert set(CIPHERS.split(":")) <= names
    assert context.minimum_version is ssl.TLSVersion.TLSv1_2
    assert context.verify_mode is ssl.CERT_REQUIRED
    assert folder.context(Way.TLS).verify_mode is ssl.CERT_NONE


def test_what_ends_soon_is_renewed_and_the_root_stays(folder: TlsFolder, clock: ManualClock) -> None:
    folder.context(Way.TLS)
    before = folder.shown()
    assert folder.renew_due() == ()
    clock.advance(370 * DAY_S)
    assert folder.renew_due() == ("ec", "rsa")
    after = folder.shown()
    assert after["root.pem"] == before["root.pem"]
    assert after["server-ec.pem"].not_after - clock.now() > timedelta(days=390)


def test_a_certificate_of_somebody_else_is_never_written_over(
    folder: TlsFolder, tmp_path: Path, clock: ManualClock
) -> None:
    other = LocalAuthority.make("An outside authority", clock.now())
    issued = other.server(["yard.weavers.example"], "ec", "", clock.now())
    (tmp_path / "server-ec.pem").write_text(issued.chain_pem)
    (tmp_path / "server-ec.key").write_text(issued.key_pem)
    folder.context(Way.TLS)
    clock.advance(380 * DAY_S)
    assert folder.renew_due() == ("rsa",)
    assert (tmp_path / "server-ec.pem").read_text() == issued.chain_pem


@pytest.mark.parametrize("name", ["root.pem", "server-ec.pem", "trusted/outside.pem"])
def test_a_file_that_cannot_be_used_is_named(tmp_path: Path, folder: TlsFolder, name: str) -> None:
    folder.context(Way.MUTUAL)
    path = tmp_path / name
    path.parent.mkdir(exist_ok=True)
    path.write_text("nonsense")
    anew = TlsFolder(tmp_path, ManualClock(folder._clock.now()), names=("x",), organization="")
    with pytest.raises(InvalidInput) as caught:
        anew.context(Way.MUTUAL)
    assert caught.value.field == path.name


def test_half_an_authority_is_no_authority(tmp_path: Path, folder: TlsFolder) -> None:
    (tmp_path / "root.key").write_text("x")
    with pytest.raises(InvalidInput, match="one is missing"):
        _ = folder.authority
