"""What a run keeps gives the inputs back, with the same hashes."""

from dataclasses import replace

from csms.ledger import canonical
from csms.ledger.inputs import RunInputs
from csms.ledger.stored_run import pack, unpack, written


def test_what_was_packed_comes_out_again(inputs: RunInputs) -> None:
    texts = [written(inputs), written(replace(inputs, only=("b",)))]
    stored, whole = pack(texts)
    assert len(stored) < sum(len(each.text) for each in texts)
    assert list(unpack(stored)) == texts
    assert whole == canonical.digest("\n".join(each.text for each in texts))
