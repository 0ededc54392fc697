"""Energy and money added up, and the row that shows them."""

from dataclasses import dataclass

from api.reports.report import Cell, Column
from csms.money import Currency, Money

COLUMNS = (
    Column("sessions", "Sessions"),
    Column("energy_wh", "Energy, Wh", "Wh"),
    Column("currency", "Currency"),
    Column("cost_excl", "Cost without VAT", "currency"),
    Column("vat", "VAT", "currency"),
    Column("cost_incl", "Cost with VAT", "currency"),
    Column("unpriced", "Sessions without a price"),
    Column("vat_unknown", "Sessions whose VAT is not told"),
    Column("running", "Sessions that still run"),
    Column("marked", "Sessions with a mark"),
    Column("estimated_wh", "Of it cut between readings, Wh", "Wh"),
)
"""The columns of `row`, for reports that add others in front."""


@dataclass(slots=True)
class Sums:
    """What is added up; amounts in minor units. What has no price, or no VAT told, counts as nothing."""

    sessions: int = 0
    energy_wh: int = 0
    excl: int = 0
    incl: int = 0
    unpriced: int = 0
    vat_unknown: int = 0
    running: int = 0
    marked: int = 0
    estimated_wh: int = 0

    def add(self, other: "Sums") -> None:
        # One after the other: a month of hours adds up half a million times.
        self.sessions += other.sessions
        self.energy_wh += other.energy_wh
        self.excl += other.excl
        self.incl += other.incl
        self.unpriced += other.unpriced
        self.vat_unknown += other.vat_unknown
        self.running += other.running
        self.marked += other.marked
        self.estimated_wh += other.estimated_wh

    def row(self, key: str, name: str, currency: str) -> dict[str, Cell]:
        """The row of a report."""
        kind = Currency(currency)
        return {
            "id": key,
            "name": name,
            "sessions": self.sessions,
            "energy_wh": self.energy_wh,
            "currency": currency,
            "cost_excl": Money(self.excl, kind).to_decimal(),
            "vat": Money(self.incl - self.excl, kind).to_decimal(),
            "cost_incl": Money(self.incl, kind).to_decimal(),
            "unpriced": self.unpriced,
            "vat_unknown": self.vat_unknown,
            "running": self.running,
            "marked": self.marked,
            "estimated_wh": self.estimated_wh,
        }


def notes_of(sums: Sums) -> list[str]:
    """What is missing or estimated, in words."""
    found = []
    if sums.unpriced:
        found.append(f"Sessions without a price: {sums.unpriced}. Their cost is counted as nothing.")
    if sums.vat_unknown:
        found.append(
            f"Sessions whose tariff does not tell the VAT: {sums.vat_unknown}. It is counted as nothing."
        )
    if sums.running:
        found.append(f"Sessions that still run: {sums.running}, with their energy so far and no cost yet.")
    if sums.estimated_wh:
        found.append(
            f"Estimated: {sums.estimated_wh} Wh lie in intervals whose edge fell between two readings "
            "(linear between them)."
        )
    if sums.marked:
        found.append(f"Marked sessions: {sums.marked}. Look at them before you bill.")
    return found
