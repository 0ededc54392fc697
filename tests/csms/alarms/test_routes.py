"""Who is told."""

from dataclasses import replace
from datetime import UTC, datetime

import pytest

from csms.alarms.alarm import Severity
from csms.alarms.routes import ChannelKind, Route, check_route, routes_for
from csms.errors import InvalidInput

ROUTE = Route(
    id="alr_1",
    channel=ChannelKind.MAIL,
    address=" caretaker@weavers.example ",
    created_at=datetime(2026, 11, 2, tzinfo=UTC),
)


def test_an_address_is_kept_without_blanks() -> None:
    assert check_route(ROUTE).address == "caretaker@weavers.example"


@pytest.mark.parametrize("address", ["", "caretaker", "a b@weavers.example", "x" * 501])
def test_what_is_no_mail_address_is_refused(address: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_route(replace(ROUTE, address=address))
    assert caught.value.field == "address"


@pytest.mark.parametrize(
    "address",
    [
        "weavers.example",
        "ftp://weavers.example",
        "https://",
        "https://a:b@weavers.example/",
        "http://x:99999/",
    ],
)
def test_what_is_no_web_address_is_refused(address: str) -> None:
    with pytest.raises(InvalidInput) as caught:
        check_route(replace(ROUTE, channel=ChannelKind.WEBHOOK, address=address))
    assert caught.value.field == "address"


def test_a_delay_has_bounds() -> None:
    with pytest.raises(InvalidInput, match="after_s"):
        check_route(replace(ROUTE, after_s=-1))


def test_weight_and_site_choose() -> None:
    urgent = replace(ROUTE, id="urgent", lowest=Severity.URGENT)
    here = replace(ROUTE, id="here", site_id="weavers-yard")
    there = replace(ROUTE, id="there", site_id="mill")
    off = replace(ROUTE, id="off", active=False)
    chosen = routes_for((urgent, here, there, off), "weavers-yard", Severity.WARNING)
    assert [route.id for route in chosen] == ["here"]
    assert len(routes_for((urgent, here, there, off), "weavers-yard", Severity.URGENT)) == 2
