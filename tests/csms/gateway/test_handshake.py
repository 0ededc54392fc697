import pytest

from csms.gateway.handshake import basic_credentials, choose_version, identity_of, offered_subprotocols
from csms.ocpp.version import Version

OURS = (Version.OCPP16, Version.OCPP201)


@pytest.mark.parametrize(
    ("path", "identity"),
    [
        ("/ocpp/BAY-01", "BAY-01"),
        # the two examples of OCPP-J 1.6 §3.1.1, with our endpoint
        ("/ocpp/RDAM%20123", "RDAM 123"),
        ("/ocpp/RDAM%7C123", "RDAM|123"),
        ("/ocpp/BAY-01/", "BAY-01"),
        ("/ocpp//BAY-01", "BAY-01"),
        ("/ocpp/BAY-01?z=1", "BAY-01"),
        ("/ocpp/BAY-01/?z=/1", "BAY-01"),
        ("/ocpp/BAY%2F01", "BAY/01"),
        ("/ocpp/BAY%2501", "BAY%01"),
        ("/ocpp/B%C3%A4cker", "Bäcker"),
        ("/ocpp/B%E4cker", None),
        ("/ocpp/", None),
        ("/ocpp", None),
        ("/ocpp//", None),
        ("/ocpp/a/b", None),
        ("/ocpp/BAY-01//", None),
        ("/other/BAY-01", None),
        ("/", None),
        ("", None),
    ],
)
def test_identity_in_the_path(path: str, identity: str | None) -> None:
    assert identity_of(path) == identity


def test_the_vector_of_the_standard() -> None:
    # OCPP-J 1.6 §6.2.2: AL1000 with the key 0001020304050607FFFFFFFFFFFFFFFFFFFFFFFF
    assert basic_credentials("Basic QUwxMDAwOgABAgMEBQYH////////////////") == (
        b"AL1000",
        bytes.fromhex("0001020304050607FFFFFFFFFFFFFFFFFFFFFFFF"),
    )


@pytest.mark.parametrize(
    ("header", "credentials"),
    [
        # RFC 7617 §2: Aladdin, open sesame
        ("Basic QWxhZGRpbjpvcGVuIHNlc2FtZQ==", (b"Aladdin", b"open sesame")),
        ("basic  QWxhZGRpbjpvcGVuIHNlc2FtZQ== ", (b"Aladdin", b"open sesame")),
        ("Basic YTpiOmM=", (b"a", b"b:c")),
        ("Basic YTo=", (b"a", b"")),
        ("Basic OmI=", (b"", b"b")),
        ("Basic YWJj", None),
        ("Basic", None),
        ("Basic ???", None),
        ("Basic YTpi\u00e9", None),
        ("Bearer YTpi", None),
        ("", None),
        (None, None),
    ],
)
def test_basic_credentials(header: str | None, credentials: tuple[bytes, bytes] | None) -> None:
    assert basic_credentials(header) == credentials


@pytest.mark.parametrize(
    ("offered", "version", "spelled"),
    [
        (["ocpp1.6"], Version.OCPP16, "ocpp1.6"),
        (["ocpp1.6", "ocpp2.0.1"], Version.OCPP16, "ocpp1.6"),
        (["ocpp2.0.1", "ocpp1.6"], Version.OCPP201, "ocpp2.0.1"),
        (["ocpp2.1", "ocpp1.5", "ocpp2.0.1"], Version.OCPP201, "ocpp2.0.1"),
        (["OCPP1.6"], Version.OCPP16, "OCPP1.6"),
    ],
)
def test_the_station_s_order_of_preference_decides(
    offered: list[str], version: Version, spelled: str
) -> None:
    choice = choose_version(offered, OURS)
    assert choice is not None
    assert (choice.version, choice.spelled) == (version, spelled)


@pytest.mark.parametrize("offered", [[], ["ocpp2.1"], ["ocpp1.5", "soap"]])
def test_nothing_in_common(offered: list[str]) -> None:
    assert choose_version(offered, OURS) is None


def test_several_headers_with_several_names() -> None:
    assert offered_subprotocols(["ocpp2.0.1, ocpp1.6", " ocpp1.5,"]) == ("ocpp2.0.1", "ocpp1.6", "ocpp1.5")
    assert offered_subprotocols([]) == ()
