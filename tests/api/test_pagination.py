"""Cursors are ours, of one list, and nothing else."""

import base64

import pytest

from api.pagination import Cursors
from csms.errors import InvalidInput
from csms.store.paging import Page

SITES = Cursors("sites")
SESSIONS = Cursors("sessions", counted=True)


def cursor(of: Cursors, key: str) -> str:
    written = of.write(Page(("an item",), key)).next
    assert written is not None
    return written


@pytest.mark.parametrize("key", ["weavers-yard", "Ünï:cöde", "04A1B2C3"])
def test_a_cursor_gives_back_its_key(key: str) -> None:
    assert SITES.read(cursor(SITES, key)) == key


def test_the_first_page_has_no_cursor_and_the_last_no_next() -> None:
    assert SITES.read(None) is None
    assert SITES.write(Page(("an item",))) == Page(("an item",))


def test_a_counted_list_takes_whole_numbers_that_fit_a_column() -> None:
    assert SESSIONS.read(cursor(SESSIONS, "4711")) == "4711"
    for key in ("-1", "1.5", "one", "9" * 19, "٣"):
        with pytest.raises(InvalidInput):
            SESSIONS.read(cursor(SESSIONS, key))


@pytest.mark.parametrize(
    "wrong",
    [
        "",
        "weavers-yard",
        "ü",
        "====",
        base64.urlsafe_b64encode(b"sites:").decode(),
        base64.urlsafe_b64encode(b"sites:a\x00b").decode(),
        base64.urlsafe_b64encode(b"sites").decode(),
        base64.urlsafe_b64encode(b"sites:\xff").decode(),
        cursor(SESSIONS, "4711"),
    ],
)
def test_what_is_no_cursor_of_this_list_is_refused(wrong: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        SITES.read(wrong)
    assert caught.value.field == "after"
