import io
import zipfile
from datetime import UTC, datetime

from csms.documents.archive import Archive, missing_text
from csms.documents.document import Document


def packed(*files: tuple[str, bytes]) -> bytes:
    out = io.BytesIO()
    archive = Archive(out)
    for name, content in files:
        archive.add(name, content)
    archive.close()
    return out.getvalue()


def test_what_goes_in_comes_out_and_equal_names_stay_apart() -> None:
    made = packed(("S-1 Ærø.pdf", b"one"), ("S-1 Ærø.pdf", b"two"), ("S-2.pdf", b"three"))
    with zipfile.ZipFile(io.BytesIO(made)) as archive:
        assert archive.testzip() is None
        assert {name: archive.read(name) for name in archive.namelist()} == {
            "S-1 Ærø.pdf": b"one",
            "S-1 Ærø (2).pdf": b"two",
            "S-2.pdf": b"three",
        }


def test_equal_documents_are_equal_files() -> None:
    assert packed(("a.pdf", b"x" * 1000)) == packed(("a.pdf", b"x" * 1000))


def test_what_is_missing_is_named() -> None:
    fine = Document(
        statement_id="stm_1",
        site_id="yard",
        period="2026-01",
        number="S-1",
        member_name="Flat 1",
        problem="",
        hash="",
        size=0,
        electronic=False,
        made_at=datetime(2026, 2, 3, tzinfo=UTC),
    )
    failed = Document(
        statement_id="stm_2",
        site_id="yard",
        period="2026-01",
        number="S-2",
        member_name="Flat 2",
        problem="language: 'fi' is no language of ours",
        hash="",
        size=0,
        electronic=False,
        made_at=datetime(2026, 2, 3, tzinfo=UTC),
    )
    assert missing_text([fine]) == ""
    assert missing_text([fine, failed]) == "S-2 Flat 2: language: 'fi' is no language of ours\r\n"
