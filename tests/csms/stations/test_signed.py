from csms.stations.encoding import plain
from csms.stations.signed import SignedValue


def test_all_of_it_is_kept_where_a_step_is_kept_for_people() -> None:
    value = SignedValue("7b7d", "{}", "OCMF", "ECDSA", "key")
    assert plain(value) == {
        "received": "7b7d",
        "data": "{}",
        "encoding": "OCMF",
        "signing": "ECDSA",
        "public_key": "key",
    }
