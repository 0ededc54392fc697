"""Ids are readable over a telephone; secrets are long."""

from csms.ids import new_id, new_secret


def test_ids_have_their_prefix_and_no_letters_that_are_mistaken() -> None:
    ids = {new_id("mem") for _ in range(1000)}
    assert len(ids) == 1000
    for text in ids:
        prefix, _, rest = text.partition("_")
        assert prefix == "mem"
        assert len(rest) == 12
        assert not set(rest) & set("ilou")


def test_secrets_have_160_bits() -> None:
    secret = new_secret()
    assert len(secret) * 5 == 160
    assert new_secret() != secret
