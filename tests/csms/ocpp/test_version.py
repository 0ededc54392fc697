import pytest

from csms.ocpp.version import Version


@pytest.mark.parametrize(
    ("name", "version"),
    [
        ("ocpp1.6", Version.OCPP16),
        ("ocpp2.0.1", Version.OCPP201),
        ("ocpp2.1", Version.OCPP21),
        ("OCPP1.6", Version.OCPP16),
        (" ocpp2.0.1 ", Version.OCPP201),
        ("ocpp2.0", None),
        ("", None),
    ],
)
def test_a_subprotocol_names_a_version(name: str, version: Version | None) -> None:
    assert Version.of_subprotocol(name) is version


def test_only_2x_must_be_able_to_compress() -> None:
    assert [version.compresses for version in Version] == [False, True, True]
