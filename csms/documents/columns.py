"""A site's settings for documents: whether invoices are electronic, and the columns of its rent ledger.

The rent ledger is the program in which the association keeps what its members owe. Each takes its own
table: these columns, in this order, by these names, with this decimal sign and these account codes.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from enum import StrEnum

from csms.errors import InvalidInput
from csms.ledger.statement import LineKind
from csms.sites.model import check_name

MOST_COLUMNS = 40
MOST_ACCOUNTS = 5000
LONGEST_CODE = 40
VAT = "vat"
"""The key of the account that VAT is booked to, beside the kinds of lines."""


class Content(StrEnum):
    """What a column can show."""

    NUMBER = "number"
    KIND = "kind"
    CORRECTS = "corrects"
    ISSUED_ON = "issued_on"
    DUE_ON = "due_on"
    MEMBER_ID = "member_id"
    MEMBER = "member"
    MEMBER_ACCOUNT = "member_account"
    PERIOD = "period"
    PERIOD_START = "period_start"
    PERIOD_END = "period_end"
    TEXT = "text"
    ACCOUNT = "account"
    ITEM = "item"
    QUANTITY = "quantity"
    UNIT = "unit"
    UNIT_PRICE = "unit_price"
    VAT_PERCENT = "vat_percent"
    ENERGY_KWH = "energy_kwh"
    NET = "net"
    VAT = "vat"
    GROSS = "gross"
    AMOUNT = "amount"
    CURRENCY = "currency"
    OPENING = "opening"
    PAID = "paid"
    CLOSING = "closing"


class RowsPer(StrEnum):
    """A row for each document, or one for each line and one for each sum of VAT. Either way the
    amounts of all rows add up to what the documents charge."""

    DOCUMENT = "document"
    LINE = "line"


@dataclass(frozen=True, slots=True)
class Column:
    """A column; without a name it has the site's language's own."""

    content: Content
    name: str = ""


DEFAULT_COLUMNS = tuple(
    Column(each)
    for each in (
        *(Content.NUMBER, Content.KIND, Content.ISSUED_ON, Content.DUE_ON, Content.MEMBER_ID),
        *(Content.MEMBER, Content.PERIOD, Content.ENERGY_KWH, Content.NET, Content.VAT, Content.GROSS),
        *(Content.CURRENCY, Content.ACCOUNT, Content.CORRECTS),
    )
)


@dataclass(frozen=True, slots=True, kw_only=True)
class DocumentSettings:
    """`e_invoice`: each PDF carries its EN 16931 invoice. `accounts`: kind of line, or `vat`, to account
    code; `account` is the code of what has none of its own, and of whole documents. `member_accounts`:
    member id to code."""

    e_invoice: bool = False
    columns: tuple[Column, ...] = DEFAULT_COLUMNS
    rows_per: RowsPer = RowsPer.DOCUMENT
    decimal_sign: str = "."
    separator: str = ","
    account: str = ""
    accounts: Mapping[str, str] = field(default_factory=dict)
    member_accounts: Mapping[str, str] = field(default_factory=dict)


def check_settings(settings: DocumentSettings) -> DocumentSettings:
    """`settings` in their final form; InvalidInput names the field that is wrong."""
    if not 0 < len(settings.columns) <= MOST_COLUMNS:
        raise InvalidInput("columns", f"must be 1 to {MOST_COLUMNS}, not {len(settings.columns)}")
    if settings.decimal_sign not in (".", ","):
        raise InvalidInput("decimal_sign", 'must be "." or ","')
    if settings.separator not in (",", ";", "\t"):
        raise InvalidInput("separator", "must be a comma, a semicolon or a tab")
    if settings.separator == settings.decimal_sign:
        raise InvalidInput("separator", "must differ from decimal_sign; take a semicolon beside a comma")
    codes = ("accounts", settings.accounts), ("member_accounts", settings.member_accounts)
    for name, mapping in codes:
        if len(mapping) > MOST_ACCOUNTS:
            raise InvalidInput(name, f"has {len(mapping)} entries; at most {MOST_ACCOUNTS} are kept")
    known = {*(kind.value for kind in LineKind), VAT}
    for key in settings.accounts:
        if key not in known:
            raise InvalidInput(f"accounts.{key}", f"is no kind of line; there are {', '.join(sorted(known))}")
    return replace(
        settings,
        columns=tuple(
            replace(one, name=check_name(f"columns.{n}.name", one.name)) if one.name else one
            for n, one in enumerate(settings.columns)
        ),
        account=check_name("account", settings.account, LONGEST_CODE) if settings.account else "",
        accounts=_codes("accounts", settings.accounts),
        member_accounts=_codes("member_accounts", settings.member_accounts),
    )


def _codes(name: str, mapping: Mapping[str, str]) -> Mapping[str, str]:
    return {key: check_name(f"{name}.{key}", code, LONGEST_CODE) for key, code in sorted(mapping.items())}
