"""A recorded session as pricing wants it, and the bill as the session keeps it."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from csms.metering.series import CurvePoint
from csms.sessions.pauses import Pause
from csms.sessions.session import Cost, Session
from csms.stations.model import Verdict
from csms.tariffs.bill import Priced
from csms.tariffs.quote import write_priced
from csms.tariffs.session_cost import Interval, Reading, SessionFacts
from csms.tariffs.stored import StoredTariff
from csms.tariffs.tariff import TaxIncluded


@dataclass(frozen=True, slots=True, kw_only=True)
class Bill:
    """What a session costs. Without `tariff` and `priced` it has no price, and `reason` says why."""

    tariff: StoredTariff | None
    priced: Priced | None
    reason: str


def facts_of(
    session: Session, curve: Sequence[CurvePoint], pauses: Iterable[Pause], until: datetime
) -> SessionFacts:
    """The session up to `until`, its end or now.

    The curve's energy stands for the register: resets and nonsense are settled in it. Its points
    are in order of effect, which the times of closing values outside the session need not be: those
    are moved to the session's nearer end.
    """
    start, end = session.started_at, max(until, session.started_at)
    pauses = tuple(pauses)
    return SessionFacts(
        start=start,
        end=end,
        registers=tuple(Reading(min(max(point.at, start), end), point.energy_wh) for point in curve),
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
    incl = priced.totals.incl
    return Cost(
        tariff_id=tariff.id,
        currency=priced.currency.code,
        excl_minor=priced.totals.excl.minor,
        incl_minor=None if incl is None else incl.minor,
        lines={
            "tariff": tariff.name,
            "reason": bill.reason,
            **{name: written[name] for name in ("lines", "vat", "limit_applied")},
            "notes": _notes(tariff),
        },
    )


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
