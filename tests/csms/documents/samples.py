"""Statements to make documents of: flat 12 of Weavers' Yard in January 2026.

The shares are flat A's of the invented month in the project's shared cost example: five pools, 248.53
without VAT, 62.13 VAT at 25 %, 310.66 in all.
"""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

from csms.ledger.statement import (
    Balance,
    DayEnergy,
    DocumentLink,
    Estimate,
    Explained,
    Flag,
    Issuer,
    Line,
    LineKind,
    PaymentLine,
    Recipient,
    SessionLine,
    Statement,
    StatementKind,
    Sum,
    SumLine,
    Unit,
    VatCategory,
    VatTotal,
)

FIRST = date(2026, 1, 1)
POOLS = {
    "Energy at spot": (2705, "81.24", "kwh"),
    "Supplier's mark-up": (1665, "50.00", "kwh"),
    "Grid energy fee": (2064, "62.00", "kwh"),
    "Capacity": (15381, "462.00", "kwh"),
    "Fixed": (3038, "121.50", "equal"),
}
"""Flat A's share in cents, the whole pool, how it is shared."""

IBAN = "DE02120300000000202051"
"""A German IBAN with right check digits, widely printed as an example."""

YARD = Issuer(
    name="Weavers' Yard Housing Association",
    address=("Mill Lane 3", "1234 Weaverby"),
    tax_id="NO123456789MVA",
    country="NO",
    email="treasurer@weaversyard.example",
    payment_to=IBAN,
)


def pool_lines(percent: str | None = "25") -> tuple[Line, ...]:
    """Flat A's shares; without `percent` the issuer is not registered."""
    return tuple(
        Line(
            number=number,
            kind=LineKind.POOL_SHARE,
            arguments={"pool": pool, "key": key, "supplier": "Canal Power"},
            quantity=Decimal(1),
            unit=Unit.ONE,
            unit_price=Decimal(cents) / 100,
            net_minor=cents,
            vat_category=VatCategory.NOT_SUBJECT if percent is None else VatCategory.STANDARD,
            vat_percent=None if percent is None else Decimal(percent),
        )
        for number, (pool, (cents, _whole, key)) in enumerate(POOLS.items(), 1)
    )


def session_lines(count: int = 14) -> tuple[SessionLine, ...]:
    """Evening sessions; the third is estimated, the last is cut at the end of the month."""
    lines = []
    register_wh = 5_000_000
    for n in range(count):
        start = datetime(2026, 1, 1, 17, 5, tzinfo=UTC) + timedelta(
            hours=min(n * 50, 725) if count < 20 else n * 2
        )
        energy_wh = 18_000 + 611 * (n % 9)
        flags = {2: (Flag.ESTIMATED,), count - 1: (Flag.INTERPOLATED, Flag.SPLIT)}.get(n, ())
        lines.append(
            SessionLine(
                session_id=7000 + n,
                start=start,
                stop=start + timedelta(hours=5, minutes=n % 40),
                station_id="yard-12",
                station="Courtyard 12",
                token="04A2…91",
                register_start_wh=register_wh,
                register_stop_wh=register_wh + energy_wh,
                energy_wh=energy_wh,
                cost_minor=1500 + 41 * (n % 9),
                flags=flags,
            )
        )
        register_wh += energy_wh
    return tuple(lines)


def days_of(sessions: tuple[SessionLine, ...]) -> tuple[DayEnergy, ...]:
    """Each day of January, a session's energy on the day of its start."""
    drawn: dict[date, int] = {}
    for session in sessions:
        drawn[session.start.date()] = drawn.get(session.start.date(), 0) + session.energy_wh
    days = [FIRST + timedelta(days=n) for n in range(31)]
    return tuple(DayEnergy(day, drawn.get(day, 0)) for day in days)


def statement(language: str = "en", sessions: int = 14) -> Statement:
    """Flat A's January, by an association that is registered for VAT."""
    told = session_lines(sessions)
    return Statement(
        id="stm_example",
        kind=StatementKind.STATEMENT,
        series="WY-2026",
        sequence=12,
        number="WY-2026-0012",
        issued_on=date(2026, 2, 3),
        due_on=date(2026, 2, 17),
        site_id="weavers-yard",
        site_name="Weavers' Yard",
        time_zone="Europe/Oslo",
        language=language,
        period_start=FIRST,
        period_end=date(2026, 2, 1),
        issuer=YARD,
        recipient=Recipient(
            member_id="flat-12", name="Flat 12", address=("Mill Lane 3, stair B", "1234 Weaverby")
        ),
        currency="EUR",
        lines=pool_lines(),
        vat=(VatTotal(category=VatCategory.STANDARD, percent=Decimal(25), base_minor=24853, vat_minor=6213),),
        net_minor=24853,
        vat_minor=6213,
        gross_minor=31066,
        balance=Balance(opening_minor=12000, charged_minor=31066, paid_minor=12000, closing_minor=31066),
        payments=(PaymentLine(at=date(2026, 1, 15), amount_minor=12000, reference="WY-2025-0590"),),
        sessions=told,
        days=days_of(told),
        energy_wh=sum(one.energy_wh for one in told),
        adds_up=(
            SumLine(Sum.MAIN_METER, Decimal("1000.0"), "kWh"),
            SumLine(Sum.CHARGERS, Decimal("962.4"), "kWh"),
            SumLine(Sum.LOSSES, Decimal("37.6"), "kWh"),
            SumLine(Sum.MEMBERS, Decimal("750.5"), "kWh"),
            SumLine(Sum.GUESTS, Decimal("211.9"), "kWh"),
            SumLine(Sum.UNKNOWN, Decimal("0"), "kWh"),
            SumLine(Sum.INVOICES, Decimal("776.74"), "EUR"),
            SumLine(Sum.MEMBER_SHARES, Decimal("632.47"), "EUR"),
            SumLine(Sum.GUEST_SHARE, Decimal("144.27"), "EUR"),
            SumLine(Sum.ASSOCIATION_SHARE, Decimal("0.00"), "EUR"),
        ),
        estimates=(
            Estimate(
                reason="stop_register",
                energy_wh=19_222,
                session_id=7002,
                at=datetime(2026, 1, 5, 21, tzinfo=UTC),
            ),
            Estimate(
                reason="boundary", energy_wh=4_100, session_id=7013, at=datetime(2026, 1, 31, 23, tzinfo=UTC)
            ),
        ),
        explained=(
            Explained("price_spot", {"factor": "1", "markup": "0.05", "fees": "0.062", "unit": "kWh"}),
            Explained("price_average", {"price": "0.2443", "unit": "kWh"}),
            Explained(
                "pool_key",
                {"pool": "Capacity", "key": "kwh", "amount": "462.00", "weight": "320.4", "whole": "962.4"},
            ),
            Explained("losses", {"percent": "3.76", "rule": "by_kwh"}),
        ),
        notes=("The yard's gate is closed for repairs on 14 February.",),
        rule_version="1",
        inputs_hash="9f2c4e81d07a5b36c1" + "0" * 46,
    )


def spot_statement(language: str = "en") -> Statement:
    """Energy by the hour, some of it at prices below zero; 19 % and 7 % VAT; three decimals of energy."""
    standard, low = VatCategory.STANDARD, Decimal(7)
    lines = (
        Line(
            number=1,
            kind=LineKind.ENERGY,
            arguments={"tariff": "Spot of the day"},
            quantity=Decimal("182.437"),
            unit=Unit.KWH,
            unit_price=Decimal("0.24431287"),
            net_minor=4457,
            vat_category=standard,
            vat_percent=Decimal(19),
        ),
        Line(
            number=2,
            kind=LineKind.NEGATIVE_ENERGY,
            arguments={"tariff": "Spot of the day"},
            quantity=Decimal("-12.500"),
            unit=Unit.KWH,
            unit_price=Decimal("0.031"),
            net_minor=-39,
            vat_category=standard,
            vat_percent=Decimal(19),
        ),
        Line(
            number=3,
            kind=LineKind.MONTHLY_FEE,
            arguments={"tariff": "Upkeep"},
            quantity=Decimal(1),
            unit=Unit.MONTH,
            unit_price=Decimal("5.00"),
            net_minor=500,
            vat_category=standard,
            vat_percent=low,
        ),
        Line(
            number=4,
            kind=LineKind.CORRECTION,
            arguments={"period": "2025-12", "of": "energy", "reason": "price_corrected"},
            quantity=Decimal(-1),
            unit=Unit.ONE,
            unit_price=Decimal("1.20"),
            net_minor=-120,
            vat_category=standard,
            vat_percent=Decimal(19),
            period="2025-12",
        ),
    )
    # 44.57 - 0.39 - 1.20 = 42.98 at 19 %: 8.1662; 5.00 at 7 %: 0.35.
    return replace(
        statement(language),
        number="WY-2026-0013",
        sequence=13,
        lines=lines,
        vat=(
            VatTotal(category=standard, percent=low, base_minor=500, vat_minor=35),
            VatTotal(category=standard, percent=Decimal(19), base_minor=4298, vat_minor=817),
        ),
        net_minor=4798,
        vat_minor=852,
        gross_minor=5650,
        balance=Balance(opening_minor=0, charged_minor=5650, paid_minor=0, closing_minor=5650),
        payments=(),
    )


def unregistered(language: str = "en") -> Statement:
    """The same shares of gross pools by an association that is not registered for VAT."""
    made = statement(language)
    return replace(
        made,
        issuer=replace(YARD, tax_id=None),
        lines=pool_lines(None),
        vat=(VatTotal(category=VatCategory.NOT_SUBJECT, percent=Decimal(0), base_minor=24853, vat_minor=0),),
        vat_minor=0,
        gross_minor=24853,
        balance=Balance(opening_minor=0, charged_minor=24853, paid_minor=0, closing_minor=24853),
        payments=(),
        explained=(*made.explained, Explained("not_registered")),
    )


def credit_note(of: Statement) -> Statement:
    """What takes `of` back: the same lines with their quantities negated, and its name."""
    return replace(
        of,
        id="stm_credit",
        kind=StatementKind.CREDIT_NOTE,
        series="WY-2026-C",
        sequence=1,
        number="WY-2026-C-0001",
        issued_on=date(2026, 2, 9),
        due_on=None,
        lines=tuple(replace(line, quantity=-line.quantity, net_minor=-line.net_minor) for line in of.lines),
        vat=tuple(replace(each, base_minor=-each.base_minor, vat_minor=-each.vat_minor) for each in of.vat),
        net_minor=-of.net_minor,
        vat_minor=-of.vat_minor,
        gross_minor=-of.gross_minor,
        balance=Balance(
            opening_minor=of.gross_minor, charged_minor=-of.gross_minor, paid_minor=0, closing_minor=0
        ),
        payments=(),
        corrects=DocumentLink(of.number, of.issued_on),
    )
