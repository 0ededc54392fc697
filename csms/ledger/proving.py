"""The ten reconciliations over one month's evidence, before it is issued and whenever after."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from csms.ledger import proof
from csms.ledger.assembling import Assembled
from csms.ledger.charges import About, Charge, energies
from csms.ledger.inputs import ASSOCIATION, GUESTS, RunInputs
from csms.ledger.proof import Check, Name, Verdict
from csms.ledger.statement import LineKind, Statement, StatementKind
from csms.ledger.supply import SupplyEnergy


@dataclass(frozen=True, slots=True, kw_only=True)
class Evidence:
    """`inputs` as the month looks now. `charges`: what it comes to; `booked`: what is booked for it, None
    before it is issued. `documents`: what is, or would be issued, about it. `openings`: document -> what
    the books opened it with. `again`: (document, its hash, the hash that the inputs give)."""

    gathered: Assembled
    supply: SupplyEnergy | None
    supply_problem: str
    spaces: Mapping[str, str]
    inputs: RunInputs
    charges: Sequence[Charge]
    booked: Mapping[About, int] | None
    documents: Sequence[Statement]
    openings: Mapping[str, int]
    sequences: Mapping[str, Sequence[int]]
    again: Sequence[tuple[str, str, str]]


def prove(evidence: Evidence) -> tuple[Check, ...]:
    """All ten, in order."""
    inputs, made = evidence.inputs, evidence.gathered
    tree = energies(inputs)
    drafts = [
        document.recipient.member_id
        for document in evidence.documents
        if document.kind is StatementKind.STATEMENT
    ]
    return (
        proof.registers(made.chains),
        proof.tree(
            evidence.supply, tree.chargers_wh, inputs.terms.loss_bound_percent, evidence.supply_problem
        ),
        proof.time(made.chains, made.untiled, len(made.parts)),
        _price(evidence),
        proof.money(_invoices(inputs), _shares(evidence), inputs.currency),
        proof.vat(evidence.documents),
        proof.payments(evidence.documents, evidence.openings, inputs.currency),
        proof.completeness(evidence.spaces or _everybody(inputs), drafts, _spaces(evidence)),
        proof.numbers(evidence.sequences),
        proof.same_bytes(evidence.again),
    )


def _price(evidence: Evidence) -> Check:
    made, inputs = evidence.gathered, evidence.inputs
    if not inputs.terms.members_pay_sessions and not made.repriced:
        words = "no session is paid by tariff: members pay by shares of the invoices"
        return Check(name=Name.PRICE, verdict=Verdict.NOT_MEASURED, words=words)
    found = proof.price(made.repriced, inputs.currency)
    closed = {key: reason for key, reason in made.unpriced.items() if inputs.terms.members_pay_sessions}
    if not closed or found.failed:
        return found
    shown = "; ".join(f"session {key}: {reason}" for key, reason in sorted(closed.items())[:5])
    more = f" and {len(closed) - 5} more" if len(closed) > 5 else ""
    return Check(
        name=Name.PRICE,
        verdict=Verdict.FAIL,
        words=f"{len(closed)} sessions have no price: {shown}{more}",
        figures=found.figures,
    )


def _invoices(inputs: RunInputs) -> dict[str, int]:
    registered = inputs.terms.registered
    return {
        pool.id: pool.amount_minor + (0 if registered else pool.vat_minor)
        for pool in inputs.pools
        if pool.amount_minor or pool.vat_minor
    }


def _shares(evidence: Evidence) -> dict[str, dict[str, int]]:
    """Of each pool, what members, guests and the association bear: as booked, else as it would be."""
    amounts: Mapping[About, int]
    if evidence.booked is None:
        summed: defaultdict[About, int] = defaultdict(int)
        for charge in evidence.charges:
            summed[charge.about] += charge.net_minor
        amounts = summed
    else:
        amounts = evidence.booked
    found: defaultdict[str, defaultdict[str, int]] = defaultdict(lambda: defaultdict(int))
    for about, minor in amounts.items():
        if about.kind is LineKind.POOL_SHARE:
            who = {GUESTS: "guests", ASSOCIATION: "association"}.get(about.account, "members")
            found[about.reference][who] += minor
    return {pool: dict(parts) for pool, parts in found.items()}


def _everybody(inputs: RunInputs) -> dict[str, str]:
    """Where no places are written down, every member that is there counts as one."""
    return {f"place of {m.member_id}": m.member_id for m in inputs.members if m.spaces}


def _spaces(evidence: Evidence) -> int:
    return len(evidence.spaces) or sum(member.spaces for member in evidence.inputs.members)
