"""A recorded session as pricing wants it, and the bill as the session keeps it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from csms.metering.cutting import EnergyPiece
from csms.metering.series import CurvePoint
from csms.sessions.pauses import Pause
from csms.sessions.session import Cost, Session
from csms.stations.model import Verdict
from csms.tariffs.bill import Line, Priced
from csms.tariffs.quote import write_lines, write_priced
from csms.tariffs.session_cost import Interval, Reading, SessionFacts
from csms.tariffs.stored import StoredTariff
from csms.tariffs.tariff import TaxIncluded


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """What a session costs. Without `tariff` and `priced` it has no price, and `reason` says why.

    `group_ids`: those of the member that counted for the tariff and what it takes off. `pieces`: the
    energy cut where the market's price may switch.
    """

    tariff: StoredTariff | None
    priced: Priced | None
    reason: str
    group_ids: frozenset[str] = frozenset()
    pieces: tuple[EnergyPiece, ...] = ()


def facts_of(
    session: Session,
    curve: Sequence[CurvePoint],
    pauses: Iterable[Pause],
    until: datetime,
    pieces: Sequence[EnergyPiece] = (),
) -> SessionFacts:
    """The session up to `until`, its end or now. Where `pieces` are cut the register is in whole Wh, as it
    is for everything else that cuts a session.

    The curve's energy stands for the register: resets and nonsense are settled in it. Its points
    are in order of effect, which the times of closing values outside the session need not be: those
    are moved to the session's nearer end.
    """
    start, end = session.started_at, max(until, session.started_at)
    pauses = tuple(pauses)
    read = [Reading(min(max(point.at, start), end), point.energy_wh) for point in curve]
    cut = [Reading(piece.start, piece.from_wh) for piece in pieces[1:] if read]
    return SessionFacts(
        start=start,
        end=end,
        registers=(*read, *cut),
        idle=tuple(Interval(pause.from_at, pause.to_at) for pause in pauses if not pause.by_us),
        paused=tuple(Interval(pause.from_at, pause.to_at) for pause in pauses if pause.by_us),
    )


def is_refusal(session: Session) -> bool:
    """Whether the session is nothing but a token that was refused: it costs nothing, no fee either."""
    return session.verdict not in ("", Verdict.ACCEPTED.value) and session.energy_wh == 0


def cost_of(bill: Bill) -> Cost | None:
    """The bill as the session keeps it, its lines with their reasons as JSON values; None: no price."""
    tariff, priced = bill.tariff, bill.priced
    if tariff is None or priced is None:
        return None
    written = write_priced(priced)
    shown = zip(priced.lines, write_lines(priced), strict=True)
    lines = [_flagged(line, each, bill.pieces) for line, each in shown]
    incl = priced.totals.incl
    return Cost(
        tariff_id=tariff.id,
        currency=priced.currency.code,
        excl_minor=priced.totals.excl.minor,
        incl_minor=None if incl is None else incl.minor,
        lines={
            "tariff": tariff.name,
            "reason": bill.reason,
            "lines": lines,
            **{name: written[name] for name in ("vat", "limit_applied")},
            "groups": sorted(bill.group_ids),
            "notes": _notes(tariff),
        },
    )


def _flagged(line: Line, shown: dict[str, object], pieces: Sequence[EnergyPiece]) -> dict[str, object]:
    """A line that follows the market, in few words as a session has one for every interval, with whether
    its energy had to be interpolated at an edge."""
    if line.followed is None:
        return shown
    market = line.followed.price
    within = [piece for piece in pieces if piece.start < market.end and piece.end > market.start]
    sign = ", below zero: credited" if line.quantity < 0 else ""
    kept = {name: value for name, value in shown.items() if name != "passed_over"}
    return {
        **kept,
        "reason": f"elements[{line.element}] follows the market{sign}",
        "interpolated": any(piece.interpolated for piece in within),
    }


def no_cost(currency: str) -> Cost:
    """What a refusal costs."""
    reason = "the token was refused and nothing was drawn"
    return Cost(
        tariff_id=None,
        currency=currency,
        excl_minor=0,
        incl_minor=0,
        lines={"tariff": None, "reason": reason, "lines": [], "vat": [], "limit_applied": None, "notes": []},
    )


def _notes(tariff: StoredTariff) -> list[str]:
    """What a reader must know beside the figures."""
    if tariff.tariff.states_vat or tariff.tariff.tax_included is TaxIncluded.NOT_APPLICABLE:
        return []
    if tariff.tariff.tax_included is TaxIncluded.YES:
        return ["prices hold taxes of a rate that is not told: both totals are with taxes"]
    return ["the tariff names no VAT: the total with VAT is not known"]


def price_documents(cost_lines: object) -> dict[str, set[str]]:
    """Which documents priced a session, by the feed, out of what the session keeps of its cost."""
    found: dict[str, set[str]] = {}
    lines = cost_lines.get("lines", ()) if isinstance(cost_lines, dict) else ()
    for line in lines:
        market = line.get("market")
        if market is not None:
            found.setdefault(market["feed"], set()).add(market["document"])
    return found


def with_earlier(cost: Cost, session: Session) -> Cost:
    """The cost with what the session cost by other documents before; itself where these are the same."""
    kept = session.cost_lines if isinstance(session.cost_lines, dict) else {}
    earlier = list(kept.get("earlier", ()))
    before, now = price_documents(kept), price_documents(cost.lines)
    if before and before != now:
        earlier.append(
            {
                "cost_excl_minor": session.cost_excl_minor,
                "cost_incl_minor": session.cost_incl_minor,
                "documents": sorted(document for documents in before.values() for document in documents),
            }
        )
    return replace(cost, lines={**cost.lines, "earlier": earlier}) if earlier else cost
