"""What a statement says of itself: how the site adds up, what was estimated, how prices came about."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from csms.ledger.charges import Charge, Energies, energies, guests_income, guests_share
from csms.ledger.inputs import ASSOCIATION, GUESTS, Correction, Part, PoolFacts, RunInputs
from csms.ledger.statement import Estimate, Explained, Flag, LineKind, Sum, SumLine
from csms.money import Currency, Money


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFigures:
    """What all statements of a run say of the whole site."""

    tree: Energies
    adds_up: tuple[SumLine, ...]
    pools: Mapping[str, str]
    surplus_minor: int
    has_guests: bool


def site_figures(inputs: RunInputs, found: Sequence[Charge]) -> SiteFigures:
    """The figures of the whole site; those of a main meter only where there is one."""
    tree = energies(inputs)
    shares = [charge for charge in found if charge.about.kind is LineKind.POOL_SHARE]
    guests = guests_share(found)
    association = sum(c.net_minor for c in shares if c.about.account == ASSOCIATION)
    whole = sum(charge.net_minor for charge in shares)
    income = guests_income(inputs)
    wh: list[tuple[Sum, int | None]] = [
        (Sum.MAIN_METER, inputs.supply_wh),
        (Sum.CHARGERS, tree.chargers_wh),
        (Sum.LOSSES, tree.losses_wh),
        (Sum.MEMBERS, sum(tree.members.values())),
        (Sum.GUESTS, tree.guests_wh),
        (Sum.UNKNOWN, tree.unknown_wh),
    ]
    minor = [
        (Sum.INVOICES, whole),
        (Sum.MEMBER_SHARES, whole - guests - association),
        (Sum.GUEST_SHARE, guests),
        (Sum.ASSOCIATION_SHARE, association),
        (Sum.GUEST_INCOME, income),
        (Sum.GUEST_SURPLUS, income - guests),
    ]
    currency = Currency(inputs.currency)
    return SiteFigures(
        tree=tree,
        adds_up=(
            *(SumLine(key, Decimal(value).scaleb(-3), "kWh") for key, value in wh if value is not None),
            *(SumLine(key, Money(value, currency).to_decimal(), currency.code) for key, value in minor),
        ),
        pools={pool.id: Money(_shared(pool, inputs), currency).text() for pool in inputs.pools},
        surplus_minor=income - guests,
        has_guests=any(part.account == GUESTS for part in inputs.parts),
    )


def estimates_of(parts: Iterable[Part]) -> tuple[Estimate, ...]:
    """What of the member's energy was not read, and where the figure comes from."""
    found = []
    for part in parts:
        if part.reason:
            found.append(
                Estimate(
                    reason=part.reason,
                    energy_wh=part.estimated_wh,
                    session_id=part.session_id,
                    at=part.stop,
                    arguments={"station": part.station},
                )
            )
        if Flag.INTERPOLATED in part.flags:
            found.append(
                Estimate(
                    reason="boundary",
                    energy_wh=part.energy_wh,
                    session_id=part.session_id,
                    at=part.stop,
                    arguments={"station": part.station},
                )
            )
    return tuple(found)


def explained(
    inputs: RunInputs, site: SiteFigures, mine: Sequence[Charge], corrected: Sequence[Correction]
) -> tuple[Explained, ...]:
    """How the member's prices and shares came about."""
    found: list[Explained] = []
    if not inputs.terms.registered:
        found.append(Explained("not_registered"))
    tariffs = dict.fromkeys(c.name for c in mine if c.about.kind is LineKind.SESSIONS)
    found += [Explained("price_tariff", {"tariff": name}) for name in tariffs]
    for charge in mine:
        if charge.about.kind is LineKind.POOL_SHARE:
            arguments = {
                "pool": charge.name,
                "key": charge.arguments["key"],
                "amount": site.pools[charge.about.reference],
                "weight": _weight(charge.arguments, "weight"),
                "whole": _weight(charge.arguments, "whole"),
            }
            found.append(Explained("pool_key", arguments))
    if site.tree.losses_wh is not None and inputs.supply_wh:
        percent = Decimal(100 * site.tree.losses_wh) / Decimal(inputs.supply_wh)
        arguments = {"percent": f"{round(percent, 2):f}", "rule": inputs.terms.losses.value}
        found.append(Explained("losses", arguments))
    for period in dict.fromkeys(correction.period for correction in corrected):
        reason = next(each.reason for each in corrected if each.period == period)
        found.append(Explained("correction", {"period": period, "reason": reason}))
    if site.has_guests:
        left = Money(site.surplus_minor, Currency(inputs.currency))
        found.append(Explained("guest_surplus", {"amount": left.text()}))
    return tuple(found)


def _shared(pool: PoolFacts, inputs: RunInputs) -> int:
    return pool.amount_minor + (0 if inputs.terms.registered else pool.vat_minor)


def _weight(arguments: Mapping[str, str], name: str) -> str:
    """A weight of a key: kWh where it is energy, else a count."""
    value = Decimal(arguments[name])
    return f"{value.scaleb(-3):f}" if arguments["key"] in ("kwh", "peak") else f"{value:f}"
