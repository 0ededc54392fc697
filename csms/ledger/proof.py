"""The ten reconciliations: each with its figures, and whether it holds, in words."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from csms.ledger.lines import vat_of
from csms.ledger.statement import Statement
from csms.ledger.supply import SupplyEnergy
from csms.money import Currency, Money


class Verdict(StrEnum):
    """NOT_MEASURED does not fail: there is nothing to hold it against, and it says so."""

    PASS = "PASS"  # noqa: S105 (no password)
    FAIL = "FAIL"
    NOT_MEASURED = "NOT MEASURED"


class Name(StrEnum):
    """In the order in which they are told."""

    REGISTERS = "registers"
    TREE = "tree"
    TIME = "time"
    PRICE = "price"
    MONEY = "money"
    VAT = "vat"
    PAYMENTS = "payments"
    COMPLETENESS = "completeness"
    NUMBERS = "numbers"
    SAME_BYTES = "same_bytes"


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure with what it is called and its unit, as text."""

    label: str
    value: str
    unit: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """`words`: what was found. `figures`: what it rests on."""

    name: Name
    verdict: Verdict
    words: str
    figures: tuple[Figure, ...] = ()

    @property
    def failed(self) -> bool:
        return self.verdict is Verdict.FAIL


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A charger's sessions one after another. `register_wh`: what its register rose by, over all its
    meters; `between_wh`: what it counted outside of sessions. `swaps`: where it fell, as text."""

    station_id: str
    evse: int
    sessions: int
    sessions_wh: int
    between_wh: int
    register_wh: int
    swaps: tuple[str, ...] = ()
    overlaps: tuple[str, ...] = ()
    unexplained: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Repriced:
    """A session's price: as booked, and as it comes out of the stored prices; None: there is no price."""

    session_id: int
    booked_minor: int | None
    again_minor: int | None


def registers(chains: Sequence[Chain]) -> Check:
    """Sum of sessions = register difference, per charger."""
    wrong = [
        f"{chain.station_id}/{chain.evse}: sessions {_kwh(chain.sessions_wh)} and between them "
        f"{_kwh(chain.between_wh)} kWh, but the register rose by {_kwh(chain.register_wh)} kWh"
        for chain in chains
        if chain.sessions_wh + chain.between_wh != chain.register_wh
    ]
    wrong += [text for chain in chains for text in chain.unexplained]
    swaps = [text for chain in chains for text in chain.swaps]
    figures = (
        Figure("chargers", str(len(chains))),
        Figure("sessions", str(sum(chain.sessions for chain in chains))),
        Figure("sum of sessions", _kwh(sum(chain.sessions_wh for chain in chains)), "kWh"),
        Figure("outside of sessions", _kwh(sum(chain.between_wh for chain in chains)), "kWh"),
        Figure("rise of registers", _kwh(sum(chain.register_wh for chain in chains)), "kWh"),
        Figure("meter changes", str(len(swaps))),
    )
    words = "every charger's sessions add up to what its register rose by"
    if swaps:
        words += "; its meter was changed: " + _some(swaps)
    return _check(Name.REGISTERS, wrong, words, figures)


def tree(supply: SupplyEnergy | None, chargers_wh: int, bound_percent: Decimal, problem: str = "") -> Check:
    """Main EV meter = sum of chargers + losses, and losses within the bound."""
    figures = [Figure("chargers", _kwh(chargers_wh), "kWh")]
    if problem:
        return Check(name=Name.TREE, verdict=Verdict.FAIL, words=problem, figures=tuple(figures))
    if supply is None:
        words = "there is no main meter: no register of the supply has been entered"
        return Check(name=Name.TREE, verdict=Verdict.NOT_MEASURED, words=words, figures=tuple(figures))
    losses = supply.energy_wh - chargers_wh
    percent = Decimal(100 * losses) / supply.energy_wh if supply.energy_wh else Decimal(0)
    figures = [
        Figure("main meter", _kwh(supply.energy_wh), "kWh"),
        *figures,
        Figure("losses", _kwh(losses), "kWh"),
        Figure("losses", f"{round(percent, 2):f}", "% of the main meter"),
        Figure("bound", f"{bound_percent:f}", "%"),
    ]
    wrong = []
    if losses < 0:
        wrong.append(f"the chargers counted {_kwh(-losses)} kWh more than the main meter")
    elif percent > bound_percent:
        wrong.append(f"losses of {round(percent, 2):f} % are above the bound of {bound_percent:f} %")
    words = "the main meter is the chargers and losses within the bound"
    if supply.interpolated:
        words += "; its register at the month's edge was interpolated"
    return _check(Name.TREE, wrong, words, tuple(figures))


def time(chains: Sequence[Chain], untiled: Sequence[str], parts: int) -> Check:
    """No overlap on a connector, and the parts of every session cover it without a gap."""
    wrong = [text for chain in chains for text in chain.overlaps] + list(untiled)
    figures = (Figure("sessions", str(sum(c.sessions for c in chains))), Figure("parts", str(parts)))
    return _check(
        Name.TIME, wrong, "no two sessions overlap on a charging place, and their parts leave no gap", figures
    )


def price(found: Sequence[Repriced], currency: str) -> Check:
    """Recomputed from the stored prices = booked."""
    wrong = [
        f"session {each.session_id}: booked {_money(each.booked_minor, currency)}, "
        f"by the stored prices {_money(each.again_minor, currency)}"
        for each in found
        if each.booked_minor is None or each.booked_minor != each.again_minor
    ]
    figures = (
        Figure("sessions", str(len(found))),
        Figure("booked", _money(sum(each.booked_minor or 0 for each in found), currency), currency),
        Figure("recomputed", _money(sum(each.again_minor or 0 for each in found), currency), currency),
    )
    return _check(Name.PRICE, wrong, "every session costs what the stored prices make of it", figures)


def money(invoices: Mapping[str, int], shares: Mapping[str, Mapping[str, int]], currency: str) -> Check:
    """`invoices`: the month's amount of each pool; `shares`: of each pool, by who bears them."""
    wrong, figures = [], []
    for pool in sorted({*invoices, *shares}):
        parts = shares.get(pool, {})
        amount = invoices.get(pool, 0)
        figures.append(Figure(pool, _money(amount, currency), currency))
        if sum(parts.values()) != amount:
            wrong.append(
                f"{pool}: shares come to {_money(sum(parts.values()), currency)}, "
                f"the invoice to {_money(amount, currency)}"
            )
    for who in ("members", "guests", "association"):
        whole = sum(parts.get(who, 0) for parts in shares.values())
        figures.append(Figure(f"shares of {who}", _money(whole, currency), currency))
    words = "members, guests and association together pay each invoice to the cent"
    return _check(Name.MONEY, wrong, words if invoices else "there are no invoices to share", tuple(figures))


def vat(statements: Sequence[Statement]) -> Check:
    """Per document: bases are the sums of lines, VAT is once rate x base, the totals add up."""
    wrong = []
    for statement in statements:
        bases: defaultdict[Decimal, int] = defaultdict(int)
        for line in statement.lines:
            if line.vat_percent is not None:
                bases[line.vat_percent] += line.net_minor
        told = {total.percent: (total.base_minor, total.vat_minor) for total in statement.vat}
        due = {percent: (base, vat_of(base, percent)) for percent, base in bases.items()}
        net = sum(line.net_minor for line in statement.lines)
        tax = sum(part for _, part in due.values())
        if told != due or (net, tax, net + tax) != (
            statement.net_minor,
            statement.vat_minor,
            statement.gross_minor,
        ):
            wrong.append(f"{_named(statement)} does not add up")
    currency = statements[0].currency if statements else ""
    figures: tuple[Figure, ...] = (Figure("documents", str(len(statements))),)
    if statements:
        figures += (
            Figure("net", _money(sum(s.net_minor for s in statements), currency), currency),
            Figure("VAT", _money(sum(s.vat_minor for s in statements), currency), currency),
            Figure("gross", _money(sum(s.gross_minor for s in statements), currency), currency),
        )
    return _check(Name.VAT, wrong, "VAT is once per document and rate, and every document adds up", figures)


def payments(statements: Sequence[Statement], openings: Mapping[str, int], currency: str) -> Check:
    """Opening + statements - payments - credits = closing; `openings`: what the books say, by document."""
    wrong = []
    for statement in statements:
        balance = statement.balance
        closing = balance.opening_minor + balance.charged_minor - balance.paid_minor
        paid = sum(payment.amount_minor for payment in statement.payments)
        if (
            closing != balance.closing_minor
            or balance.charged_minor != statement.gross_minor
            or paid != balance.paid_minor
        ):
            wrong.append(f"{_named(statement)}: its account does not add up")
        due = openings.get(statement.id or statement.recipient.member_id, 0)
        if balance.opening_minor != due:
            wrong.append(
                f"{_named(statement)} opens with {_money(balance.opening_minor, currency)}, "
                f"the books with {_money(due, currency)}"
            )
    balances = [statement.balance for statement in statements]
    figures = (
        Figure("opening", _money(sum(b.opening_minor for b in balances), currency), currency),
        Figure("charged and credited", _money(sum(b.charged_minor for b in balances), currency), currency),
        Figure("paid", _money(sum(b.paid_minor for b in balances), currency), currency),
        Figure("closing", _money(sum(b.closing_minor for b in balances), currency), currency),
    )
    return _check(Name.PAYMENTS, wrong, "opening + charged - paid = closing, for every member", figures)


def completeness(owners: Mapping[str, str], with_statement: Iterable[str], spaces: int) -> Check:
    """Every active space has a statement. `owners`: space -> member."""
    there = set(with_statement)
    wrong = [
        f"{member}, who has {space}, has no statement"
        for space, member in owners.items()
        if member not in there
    ]
    figures = (Figure("active spaces", str(spaces)), Figure("members with a statement", str(len(there))))
    return _check(Name.COMPLETENESS, wrong, "every active space has a statement", figures)


def numbers(series: Mapping[str, Sequence[int]]) -> Check:
    """The numbers of each series are 1, 2, 3 …"""
    wrong, figures = [], []
    for name, found in sorted(series.items()):
        missing = sorted(set(range(1, max(found, default=0) + 1)) - set(found))
        twice = len(found) - len(set(found))
        if missing or twice:
            wrong.append(f"series {name}: missing {missing[:5]}, twice {twice}")
        figures.append(Figure(f"series {name}", f"1 to {max(found, default=0)}"))
    return _check(Name.NUMBERS, wrong, "numbers are without a gap", tuple(figures))


def same_bytes(pairs: Sequence[tuple[str, str, str]]) -> Check:
    """`pairs`: (document, hash when issued, hash of what the stored inputs give now)."""
    wrong = [f"{name} is not what it was" for name, before, now in pairs if before != now]
    figures = (Figure("documents", str(len(pairs))),)
    return _check(Name.SAME_BYTES, wrong, "the stored inputs give the same bytes again", figures)


def _check(name: Name, wrong: Sequence[str], words: str, figures: tuple[Figure, ...]) -> Check:
    if wrong:
        return Check(name=name, verdict=Verdict.FAIL, words=_some(wrong), figures=figures)
    return Check(name=name, verdict=Verdict.PASS, words=words, figures=figures)


def _some(texts: Sequence[str], most: int = 5) -> str:
    more = f"; and {len(texts) - most} more" if len(texts) > most else ""
    return "; ".join(texts[:most]) + more


def _named(statement: Statement) -> str:
    return statement.number or f"the draft for {statement.recipient.member_id}"


def _kwh(energy_wh: int) -> str:
    return f"{Decimal(energy_wh).scaleb(-3):f}"


def _money(minor: int | None, currency: str) -> str:
    return "nothing" if minor is None else Money(minor, Currency(currency)).text()
