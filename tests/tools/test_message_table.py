"""The table of messages is what the translators say, and each word in it is explained."""

from csms.ocpp.actions import KNOWN
from csms.ocpp.adapter import VERSIONS
from tools.message_table import README, counts, page, table, unexplained


def test_the_page_is_up_to_date() -> None:
    text = README.read_text("utf-8")
    assert page(text) == text, "run python -m tools.message_table"


def test_every_action_of_every_version_has_its_row() -> None:
    lines = table().splitlines()
    for version in VERSIONS:
        place = 2 + list(VERSIONS).index(version)
        named = {
            cells[1].strip() for line in lines if len(cells := line.split("|")) > 7 and cells[place].strip()
        }
        assert named >= KNOWN[version]


def test_the_counts_are_those_of_the_standard() -> None:
    # OCPP 1.6 section 3.3 with the security white paper, 2.0.1 blocks A to P, 2.1: the schemas' files.
    cells = [[cell.strip() for cell in line.split("|")] for line in counts()]
    assert [row[2] for row in cells] == [row[5] for row in cells] == ["39", "64", "91"]
    assert [row[6] for row in cells] == ["none"] * 3


def test_each_word_is_explained() -> None:
    assert unexplained() == []
