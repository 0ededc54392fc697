"""Six catalogues that say the same things. That they are sound gettext is babel's own check."""

import re
import string
from pathlib import Path

import pytest
from babel.messages import pofile
from babel.messages.checkers import checkers

from csms.documents.columns import VAT, Content
from csms.documents.language import Language
from csms.documents.reasons import LEVELS
from csms.documents.usage import MARKS
from csms.documents.words import FOLDER, words_of
from csms.errors import OurFault
from csms.ledger.pool import Key
from csms.ledger.statement import LineKind, Sum, Unit
from csms.ledger.terms import Losses

SOURCES = tuple(Path(FOLDER).parent.glob("*.py"))


def placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in string.Formatter().parse(text) if name is not None}


@pytest.mark.parametrize("language", Language)
def test_a_catalogue_has_every_message_with_the_same_placeholders(language: Language) -> None:
    english = words_of(Language.ENGLISH).messages
    others = words_of(language).messages
    assert others.keys() == english.keys()
    unlike = {id for id, text in others.items() if placeholders(text) != placeholders(english[id])}
    assert unlike == set()


@pytest.mark.parametrize("language", Language)
def test_a_catalogue_is_sound(language: Language) -> None:
    with (FOLDER / f"{language.value}.po").open("rb") as file:
        catalogue = pofile.read_po(file, locale=language.value, abort_invalid=True)
    assert len(catalogue) > 150
    for message in catalogue:
        for check in checkers:
            check(catalogue, message)
        assert not message.id or message.string == str(message.string).strip()
    ids = re.findall(r'^msgid "(.+)"$', (FOLDER / f"{language.value}.po").read_text(), re.MULTILINE)
    assert len(ids) == len(set(ids))


def test_every_message_that_the_code_names_exists_and_the_other_way_round() -> None:
    code = "".join(path.read_text() for path in SOURCES)
    known = words_of(Language.ENGLISH).messages.keys()
    named = {text for text in re.findall(r'"([a-z_]+\.[A-Za-z_0-9]+(?:\.[a-z_]+)?)"', code) if text in known}
    made = {
        *(f"line.{kind.value}" for kind in LineKind),
        *(f"of.{kind.value}" for kind in LineKind),
        *(f"key.{key.value}" for key in Key),
        *(f"rule.{rule.value}" for rule in Losses),
        *(f"unit.{unit.value}" for unit in Unit),
        *(f"flag.{flag.value}" for flag in MARKS),
        *(f"sum.{one.value}" for one in Sum),
        *(f"column.{content.value}" for content in Content),
        *("line.pool_share.under", "line.pool_share.under_plain"),
    }
    assert made <= known
    assert set(LEVELS) == set(Sum)
    assert VAT not in {kind.value for kind in LineKind}
    by_the_ledger = {id for id in known if id.startswith(("explained.", "estimate.", "reason."))}
    assert known - named - made - by_the_ledger == set(), "messages that nothing says"


def test_what_the_ledger_may_say_is_known() -> None:
    """The keys are in the docstrings of the statement, which is where the ledger promises them."""
    promised = Path("csms/ledger/statement.py").read_text()
    explained = promised.split("class Explained")[1].split('"""')[1]
    estimates = promised.split("class Estimate")[1].split('"""')[1]
    words = words_of(Language.ENGLISH)
    keys = re.findall(r"`([a-z_]+)` \[", explained)
    assert len(keys) >= 8
    assert [key for key in keys if not words.knows(f"explained.{key}")] == []
    reasons = re.findall(r"`([a-z_]+)`", estimates.split("`reason`:")[1])
    assert len(reasons) >= 8
    assert [reason for reason in reasons if not words.knows(f"estimate.{reason}")] == []


def test_an_unknown_message_is_our_fault() -> None:
    with pytest.raises(OurFault, match=r"sv\.po has no message 'pay\.tomorrow'"):
        words_of(Language.SWEDISH).say("pay.tomorrow", {})
