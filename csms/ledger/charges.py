"""What each account pays for a month: sessions by tariff, shares of invoices, fees, the guests' surplus.

An account is a member's id, GUESTS or ASSOCIATION. What is computed here for a month that has been
billed, less what was booked for it, is its correction: so data that come late, of whatever kind, are
made good by one rule.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from csms.errors import InvalidInput
from csms.ledger.inputs import ASSOCIATION, GUESTS, Correction, Cost, Part, RunInputs
from csms.ledger.pool import weights_of
from csms.ledger.statement import LineKind
from csms.ledger.terms import Losses, Surplus
from csms.money import Currency, Money, share


@dataclass(frozen=True, slots=True)
class About:
    """What an amount is for; amounts about the same add up and can be compared over time."""

    account: str
    kind: LineKind
    reference: str
    percent: Decimal | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Charge:
    """An amount without VAT. `energy_wh` where it is about energy; `name` of the tariff or the pool."""

    about: About
    name: str
    net_minor: int
    energy_wh: int = 0
    session_ids: tuple[int, ...] = ()
    arguments: Mapping[str, str] = field(default_factory=dict)
    quantity: Decimal | None = None


@dataclass(slots=True)
class _Sum:
    """Sessions of one account, tariff and rate."""

    net_minor: int = 0
    energy_wh: int = 0
    ids: list[int] = field(default_factory=list)


@dataclass(frozen=True, slots=True, kw_only=True)
class Energies:
    """Wh of the month: of members, guests, nobody known; losses are None without a main meter."""

    members: Mapping[str, int]
    guests_wh: int
    unknown_wh: int
    losses_wh: int | None

    @property
    def chargers_wh(self) -> int:
        return sum(self.members.values()) + self.guests_wh + self.unknown_wh


def energies(inputs: RunInputs) -> Energies:
    """The tree of energy, from the parts up."""
    found: defaultdict[str, int] = defaultdict(int)
    for part in inputs.parts:
        found[part.account] += part.energy_wh
    guests, unknown = found.pop(GUESTS, 0), found.pop("", 0) + inputs.between_wh
    chargers = sum(found.values()) + guests + unknown
    losses = None if inputs.supply_wh is None else inputs.supply_wh - chargers
    return Energies(members=dict(found), guests_wh=guests, unknown_wh=unknown, losses_wh=losses)


def charges(inputs: RunInputs) -> tuple[Charge, ...]:
    """All charges of the month, for every account. InvalidInput where VAT is missing."""
    found = [*_sessions(inputs), *_fees(inputs), *_shares(inputs)]
    if inputs.terms.surplus is Surplus.MEMBERS:
        found += _surplus(inputs, found)
    return tuple(found)


def guests_income(inputs: RunInputs) -> int:
    """What guests pay for their sessions, in minor units; without VAT when the association charges it."""
    costs = (cost for part in inputs.parts if part.account == GUESTS for cost in part.costs)
    return sum(_net(cost, inputs) for cost in costs)


def guests_share(found: Iterable[Charge]) -> int:
    """The guests' part of the invoices."""
    return sum(
        c.net_minor for c in found if c.about.account == GUESTS and c.about.kind is LineKind.POOL_SHARE
    )


def corrections(
    period: str, now: Iterable[Charge], booked: Mapping[About, int], names: Mapping[str, str]
) -> tuple[Correction, ...]:
    """What the month comes to now less what was booked for it; nothing where both agree."""
    due: defaultdict[About, int] = defaultdict(int)
    called = dict(names)
    for charge in now:
        due[charge.about] += charge.net_minor
        called[charge.about.reference] = charge.name
    return tuple(
        Correction(
            account=about.account,
            period=period,
            of=about.kind,
            reference=about.reference,
            name=called.get(about.reference, about.reference),
            percent=about.percent,
            net_minor=due[about] - booked.get(about, 0),
        )
        for about in sorted({*due, *booked}, key=_order)
        if due[about] != booked.get(about, 0)
    )


def rate_of(percent: Decimal | None, inputs: RunInputs, what: str) -> Decimal | None:
    """The VAT rate of a charge: None when the association is not registered."""
    if not inputs.terms.registered:
        return None
    percent = inputs.terms.vat_percent if percent is None else percent
    if percent is None:
        raise InvalidInput(
            what, "names no VAT, and the association is registered for it: name a rate there, or in the terms"
        )
    return percent.normalize() + 0


def _sessions(inputs: RunInputs) -> list[Charge]:
    """Per account, tariff and rate: what costs something, and what is credited, each as one charge."""
    sums: dict[tuple[str, str, Decimal | None, bool], _Sum] = {}
    names: dict[str, str] = {}
    for part in inputs.parts:
        if not part.account or (part.account != GUESTS and not inputs.terms.members_pay_sessions):
            continue
        for i, cost in enumerate(part.costs):
            net = _net(cost, inputs)
            key = (part.account, part.tariff_id, cost.percent, net < 0)
            found = sums.get(key)
            if found is None:
                found = sums[key] = _Sum()
                names[part.tariff_id] = part.tariff
            found.net_minor += net
            found.energy_wh += 0 if i else part.energy_wh
            found.ids.append(part.session_id)
    made = []
    for (account, tariff_id, percent, is_credit), found in sums.items():
        kind = LineKind.NEGATIVE_ENERGY if is_credit else LineKind.SESSIONS
        rate = rate_of(percent, inputs, f"tariffs.{tariff_id}.vat")
        made.append(
            Charge(
                about=About(account, kind, tariff_id, rate),
                name=names[tariff_id],
                net_minor=found.net_minor,
                energy_wh=found.energy_wh,
                session_ids=tuple(sorted(set(found.ids))),
                arguments={"tariff": names[tariff_id]},
            )
        )
    return sorted(made, key=lambda charge: _order(charge.about))


def _fees(inputs: RunInputs) -> list[Charge]:
    return [
        Charge(
            about=About(
                fee.account,
                fee.kind,
                fee.tariff_id,
                rate_of(fee.percent, inputs, f"tariffs.{fee.tariff_id}.vat"),
            ),
            name=fee.name,
            net_minor=fee.net_minor,
            arguments={"tariff": fee.name},
            quantity=fee.quantity,
        )
        for fee in inputs.fees
    ]


def _shares(inputs: RunInputs) -> list[Charge]:
    currency = Currency(inputs.currency)
    tree = energies(inputs)
    association_wh = tree.unknown_wh
    if inputs.terms.losses is Losses.ASSOCIATION and tree.losses_wh is not None:
        association_wh += max(0, tree.losses_wh)
    energy = {**tree.members, GUESTS: tree.guests_wh, ASSOCIATION: association_wh}
    found = []
    for pool in inputs.pools:
        amount = pool.amount_minor + (0 if inputs.terms.registered else pool.vat_minor)
        weights = weights_of(
            pool.key,
            energy_wh=energy,
            spaces={m.member_id: m.spaces for m in inputs.members},
            space_days={m.member_id: m.space_days for m in inputs.members},
            peak_wh=inputs.peak_wh,
            association=ASSOCIATION,
        )
        percent = rate_of(pool.vat_percent, inputs, f"pools.{pool.id}.vat_percent")
        whole = sum(weights.values())
        for account, part in share(Money(amount, currency), weights).items():
            if part.minor:
                found.append(
                    Charge(
                        about=About(account, LineKind.POOL_SHARE, pool.id, percent),
                        name=pool.name,
                        net_minor=part.minor,
                        arguments={
                            "pool": pool.name,
                            "key": pool.key.value,
                            "supplier": pool.supplier,
                            "weight": str(weights[account]),
                            "whole": str(whole),
                        },
                    )
                )
    return found


def _surplus(inputs: RunInputs, found: Iterable[Charge]) -> list[Charge]:
    """The guests' surplus as credits to members by kWh; a deficit stays with the association."""
    left = guests_income(inputs) - guests_share(found)
    members = {who: wh for who, wh in energies(inputs).members.items() if wh}
    if left <= 0 or not members:
        return []
    percent = rate_of(None, inputs, "terms.vat_percent")
    parts = share(Money(left, Currency(inputs.currency)), members)
    return [
        Charge(
            about=About(account, LineKind.GUEST_SURPLUS, "", percent),
            name="",
            net_minor=-part.minor,
        )
        for account, part in parts.items()
        if part.minor
    ]


def _net(cost: Cost, inputs: RunInputs) -> int:
    return cost.net_minor if inputs.terms.registered else cost.net_minor + cost.vat_minor


def _order(about: About) -> tuple[str, str, str, Decimal]:
    percent = Decimal(-1) if about.percent is None else about.percent
    return about.account, about.kind.value, about.reference, percent


def by_account(found: Iterable[Charge]) -> Mapping[str, list[Charge]]:
    """Charges by whose they are, in the order they were found."""
    sorted_out: defaultdict[str, list[Charge]] = defaultdict(list)
    for charge in found:
        sorted_out[charge.about.account].append(charge)
    return sorted_out


def parts_by_account(parts: Iterable[Part]) -> Mapping[str, list[Part]]:
    """Parts by whose they are, in order of time."""
    sorted_out: defaultdict[str, list[Part]] = defaultdict(list)
    for part in parts:
        sorted_out[part.account].append(part)
    for mine in sorted_out.values():
        mine.sort(key=lambda part: (part.start, part.session_id))
    return sorted_out
