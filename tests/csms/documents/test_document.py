from dataclasses import replace
from datetime import UTC, datetime

import pytest

from csms.documents.document import Document, Progress

DOCUMENT = Document(
    statement_id="stm_1",
    site_id="yard",
    period="2026-01",
    number="S-00012",
    member_name="Flat 12",
    problem="",
    hash="",
    size=0,
    electronic=False,
    made_at=datetime(2026, 2, 3, tzinfo=UTC),
)


@pytest.mark.parametrize(
    ("member", "name"),
    [
        ("Flat 12", "S-00012 Flat 12.pdf"),
        ("../../etc/passwd", "S-00012 .. .. etc passwd.pdf"),
        ('a:b*c?"<>|\\d', "S-00012 a b c d.pdf"),
        ("Bæ" * 80, f"S-00012 {'Bæ' * 46}.pdf"),
        ("  ", "S-00012.pdf"),
    ],
)
def test_a_file_name_is_one_that_every_system_takes(member: str, name: str) -> None:
    assert replace(DOCUMENT, member_name=member).file_name == name


def test_a_month_is_complete_when_each_statement_has_its_document() -> None:
    assert Progress(statements=3, made=3).complete
    assert not Progress(statements=3, made=2).complete
