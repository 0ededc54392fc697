"""What was issued, as lists show it."""

import dataclasses

import pytest

from csms.ledger.issuing.issued import Document, Run
from csms.store.tables.ledger import statement, statement_run


def test_they_are_the_rows_without_what_is_large() -> None:
    assert {field.name for field in dataclasses.fields(Run)} == {c.name for c in statement_run.c} - {"inputs"}
    assert {field.name for field in dataclasses.fields(Document)} == {c.name for c in statement.c} - {"body"}


def test_they_cannot_be_edited() -> None:
    run = Run.__new__(Run)
    with pytest.raises(dataclasses.FrozenInstanceError):
        run.period = "2026-02"  # type: ignore[misc]
