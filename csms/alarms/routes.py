"""Who is told of what, by which channel, and after how long."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from enum import StrEnum
from urllib.parse import urlsplit

from csms.access.members.member import check_email
from csms.alarms.alarm import Severity
from csms.errors import InvalidInput

LONGEST_AFTER_S = 7 * 86_400
LONGEST_ADDRESS = 500


class ChannelKind(StrEnum):
    """How a message travels."""

    MAIL = "mail"
    WEBHOOK = "webhook"


@dataclass(frozen=True, slots=True, kw_only=True)
class Route:
    """`site_id` None: of all sites. `after_s` 0: at once; else when nobody took it on by then.

    `secret` signs what goes to a webhook; it is shown once, when the route is made.
    """

    id: str
    site_id: str | None = None
    channel: ChannelKind
    address: str
    lowest: Severity = Severity.WARNING
    after_s: int = 0
    active: bool = True
    secret: str = ""
    created_at: datetime


def check_route(route: Route) -> Route:
    """`route` in its final form; InvalidInput names the field that is wrong."""
    if not 0 <= route.after_s <= LONGEST_AFTER_S:
        raise InvalidInput("after_s", f"must be 0 to {LONGEST_AFTER_S} s, not {route.after_s}")
    address = route.address.strip()
    if len(address) > LONGEST_ADDRESS:
        raise InvalidInput("address", f"has {len(address)} characters; at most {LONGEST_ADDRESS} are kept")
    check = {ChannelKind.MAIL: _check_mail, ChannelKind.WEBHOOK: _check_url}[route.channel]
    return replace(route, address=check(address))


def _check_mail(address: str) -> str:
    try:
        kept = check_email(address)
    except InvalidInput as error:
        raise InvalidInput("address", error.problem) from error
    if not kept:
        raise InvalidInput("address", "give the mail address that is to be told")
    return kept


def _check_url(address: str) -> str:
    try:
        parts = urlsplit(address)
        port = parts.port
    except ValueError:
        raise InvalidInput("address", "is no address of the web; give one as https://…") from None
    if parts.scheme not in ("https", "http") or not parts.hostname or port == 0:
        raise InvalidInput("address", "is no address of the web; give one as https://…")
    if parts.username or parts.password:
        raise InvalidInput("address", "must not hold a password; messages are signed instead")
    return address


def routes_for(routes: Sequence[Route], site_id: str | None, severity: Severity) -> tuple[Route, ...]:
    """Those that are told of an alarm of that site and weight at some time."""
    return tuple(
        route
        for route in routes
        if route.active and route.site_id in (None, site_id) and severity.rank >= route.lowest.rank
    )
