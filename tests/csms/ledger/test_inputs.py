"""The inputs survive their text, which is what a run keeps."""

from csms.ledger import canonical
from csms.ledger.inputs import ASSOCIATION, GUESTS, RunInputs


def test_inputs_survive_their_text(inputs: RunInputs) -> None:
    text = canonical.write(inputs)
    again = canonical.read(RunInputs, text)
    assert again == inputs
    assert canonical.write(again) == text


def test_accounts_that_are_nobodys_come_behind_all_members() -> None:
    assert sorted([GUESTS, "z-9", ASSOCIATION, "a"]) == ["a", "z-9", ASSOCIATION, GUESTS]
