"""A month's statements out of its inputs, and nothing else: the same inputs give the same bytes."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from fractions import Fraction
from functools import cached_property
from zoneinfo import ZoneInfo

from csms.ledger import canonical
from csms.ledger.charges import Charge, by_account, charges, parts_by_account
from csms.ledger.explaining import SiteFigures, estimates_of, explained, site_figures
from csms.ledger.inputs import Correction, MemberFacts, Part, RunInputs
from csms.ledger.lines import correction_line, line_of, vat_totals
from csms.ledger.period import Month
from csms.ledger.statement import (
    Balance,
    DayEnergy,
    Line,
    Recipient,
    SessionLine,
    Statement,
    StatementKind,
)
from csms.money import apportion


@dataclass(frozen=True)
class Draft:
    """The statements of a run, in order of their members' ids, and the charges that they are made of."""

    inputs: RunInputs
    inputs_hash: str
    charges: tuple[Charge, ...]
    statements: tuple[Statement, ...]

    @cached_property
    def bodies(self) -> tuple[str, ...]:
        """The canonical text of each statement."""
        return tuple(canonical.write(statement) for statement in self.statements)


def draft(inputs: RunInputs, inputs_hash: str | None = None, every: int = 1) -> Draft:
    """All statements of the month, or every so manyth of them. InvalidInput where VAT is missing."""
    if inputs_hash is None:
        inputs_hash = canonical.digest(canonical.write(inputs))
    found = charges(inputs)
    mine, parts = by_account(found), parts_by_account(inputs.parts)
    corrected: defaultdict[str, list[Correction]] = defaultdict(list)
    for correction in inputs.corrections:
        corrected[correction.account].append(correction)
    site = site_figures(inputs, found)
    wanted = frozenset(inputs.only)
    statements = []
    for i, member in enumerate(m for m in inputs.members if not wanted or m.member_id in wanted):
        if i % every:
            continue
        key = member.member_id
        builder = _Builder(inputs, inputs_hash, member, i)
        statements.append(builder.build(mine.get(key, []), corrected.get(key, []), parts.get(key, []), site))
    return Draft(inputs, inputs_hash, found, tuple(statements))


def number_of(series: str, sequence: int) -> str:
    """`WY-00001`."""
    return f"{series}-{sequence:05}"


def statement_id(site_id: str, number: str) -> str:
    """The id of a document: it follows from its number, so that the same run gives the same bytes."""
    return "st_" + canonical.digest(f"{site_id} {number}")[:16]


class _Builder:
    """One member's statement."""

    def __init__(self, inputs: RunInputs, inputs_hash: str, member: MemberFacts, place: int) -> None:
        self._inputs = inputs
        self._hash = inputs_hash
        self._member = member
        self._sequence = inputs.numbered_from + place if inputs.numbered_from else 0

    def build(
        self,
        mine: Sequence[Charge],
        corrected: Sequence[Correction],
        parts: Sequence[Part],
        site: SiteFigures,
    ) -> Statement:
        inputs, member, terms = self._inputs, self._member, self._inputs.terms
        month = Month.parse(inputs.period)
        issued_on = inputs.issued_on or inputs.issued_at.astimezone(ZoneInfo(inputs.time_zone)).date()
        lines = self._lines(mine, corrected)
        vat = vat_totals(lines)
        net = sum(line.net_minor for line in lines)
        tax = sum(total.vat_minor for total in vat)
        paid = sum(payment.amount_minor for payment in member.payments)
        closing = member.opening_minor + net + tax - paid
        number = number_of(terms.series, self._sequence) if self._sequence else ""
        return Statement(
            id=statement_id(inputs.site_id, number) if number else "",
            kind=StatementKind.STATEMENT,
            series=terms.series,
            sequence=self._sequence,
            number=number,
            issued_on=issued_on,
            due_on=issued_on + timedelta(days=terms.due_days) if closing > 0 else None,
            site_id=inputs.site_id,
            site_name=inputs.site_name,
            time_zone=inputs.time_zone,
            language=member.language or terms.language,
            period_start=month.first,
            period_end=month.after.first,
            issuer=terms.issuer,
            recipient=Recipient(
                member_id=member.member_id, name=member.name, address=member.address, email=member.email
            ),
            currency=inputs.currency,
            lines=lines,
            vat=vat,
            net_minor=net,
            vat_minor=tax,
            gross_minor=net + tax,
            balance=Balance(
                opening_minor=member.opening_minor,
                charged_minor=net + tax,
                paid_minor=paid,
                closing_minor=closing,
            ),
            payments=member.payments,
            sessions=self._sessions(parts, mine),
            days=_days(parts, month),
            energy_wh=sum(part.energy_wh for part in parts),
            adds_up=site.adds_up,
            estimates=estimates_of(parts),
            explained=explained(inputs, site, mine, corrected),
            replaces=member.replaces,
            rule_version=inputs.rule_version,
            inputs_hash=self._hash,
        )

    def _lines(self, mine: Sequence[Charge], corrected: Sequence[Correction]) -> tuple[Line, ...]:
        registered = self._inputs.terms.registered
        made = [line_of(charge, n, registered, self._inputs) for n, charge in enumerate(mine, 1)]
        more = enumerate(corrected, len(made) + 1)
        return (*made, *(correction_line(each, n, registered, self._inputs) for n, each in more))

    def _sessions(self, parts: Sequence[Part], mine: Sequence[Charge]) -> tuple[SessionLine, ...]:
        costs = self._costs(parts, mine)
        return tuple(
            SessionLine(
                session_id=part.session_id,
                start=part.start,
                stop=part.stop,
                station_id=part.station_id,
                station=part.station,
                token=part.token,
                register_start_wh=part.register_start_wh,
                register_stop_wh=part.register_stop_wh,
                energy_wh=part.energy_wh,
                cost_minor=cost,
                flags=part.flags,
            )
            for part, cost in zip(parts, costs, strict=True)
        )

    def _costs(self, parts: Sequence[Part], mine: Sequence[Charge]) -> list[int]:
        """What each part costs: by its tariff, else its share of the invoices that are shared by kWh."""
        inputs = self._inputs
        if inputs.terms.members_pay_sessions:
            if inputs.terms.registered:
                return [sum(cost.net_minor for cost in part.costs) for part in parts]
            return [sum(cost.net_minor + cost.vat_minor for cost in part.costs) for part in parts]
        shared = sum(c.net_minor for c in mine if c.arguments.get("key") == "kwh")
        energy = sum(part.energy_wh for part in parts)
        if not energy:
            return [0] * len(parts)
        sign = -1 if shared < 0 else 1
        targets = [Fraction(abs(shared) * part.energy_wh, energy) for part in parts]
        return [sign * cents for cents in apportion(abs(shared), targets)]


def _days(parts: Sequence[Part], month: Month) -> tuple[DayEnergy, ...]:
    found: defaultdict[date, int] = defaultdict(int)
    for part in parts:
        for day in part.days:
            found[day.day] += day.energy_wh
    days = (month.first + timedelta(days=n) for n in range(month.days))
    return tuple(DayEnergy(day, found.get(day, 0)) for day in days)
