"""A bill as a document: what `phaseyard price` and a tariff's preview print.

Costs of lines are exact to six decimals, totals rounded to the currency's minor unit; both are
decimal strings. Each line says why it is there, and notes say what had to be assumed.
"""

from csms.tariffs.bill import Line, Priced, decimal_text, exact_text
from csms.tariffs.component import GUEST, Payer
from csms.tariffs.curve import Curve, SegmentKind
from csms.tariffs.imagined import Imagined, parse_session
from csms.tariffs.market.series import NO_MARKET, Market
from csms.tariffs.market.series import written as written_at
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.pricing import price
from csms.tariffs.tariff import Tariff, TaxIncluded


def price_document(
    tariff_document: object,
    session_document: object,
    market: Market = NO_MARKET,
    payer: Payer = GUEST,
) -> dict[str, object]:
    """Price an imagined session; both documents as JSON values read by `document.load_json`.

    InvalidInput names the wrong field, its path beginning with `tariff` or `session`; PricesMissing
    when energy follows a market that `market` does not have for all of it.
    """
    return price_imagined(
        parse_tariff(tariff_document, "tariff"), parse_session(session_document, "session"), market, payer
    )


def price_imagined(
    tariff: Tariff, imagined: Imagined, market: Market = NO_MARKET, payer: Payer = GUEST
) -> dict[str, object]:
    """The same of what has been read."""
    for dimension, actual in imagined.prices.items():
        tariff = tariff.with_price(dimension, actual)
    quote = write_priced(price(tariff, imagined.curve, market, payer))
    return {**quote, "notes": notes(tariff, imagined.curve)}


def write_lines(priced: Priced) -> list[dict[str, object]]:
    """The lines alone, in their order."""
    return [_line(line) for line in priced.lines]


def write_priced(priced: Priced) -> dict[str, object]:
    """The bill as JSON values. `total_incl_vat` is null where the tariff does not tell the VAT."""
    totals = priced.totals
    return {
        "currency": priced.currency.code,
        "total_excl_vat": totals.excl.text(),
        "total_incl_vat": totals.incl and totals.incl.text(),
        "limit_applied": totals.limit,
        "lines": write_lines(priced),
        "vat": [
            {"vat_percent": _rate(group.vat_percent), "net": group.net.text(), "vat": group.vat.text()}
            for group in totals.groups
            if totals.incl is not None
        ],
    }


def _line(line: Line) -> dict[str, object]:
    written: dict[str, object] = {
        "dimension": line.word,
        "phase": line.phase.value,
        "quantity": decimal_text(line.quantity),
        "unit": line.unit,
        "price": exact_text(line.price),
        "vat_percent": _rate(line.vat_percent),
        "cost_excl_vat": decimal_text(line.cost.excl),
        "cost_incl_vat": None if line.cost.incl is None else decimal_text(line.cost.incl),
        "reason": line.reason,
        "start": written_at(line.start),
    }
    if line.name:
        written["name"] = line.name
    if line.passed_over:
        written["passed_over"] = [
            {"element": over.element, "does_not_hold": over.because} for over in line.passed_over
        ]
    if line.followed is not None:
        market = line.followed.price
        written["market"] = {
            "feed": line.followed.feed_id,
            "start": written_at(market.start),
            "end": written_at(market.end),
            "price_per_mwh": f"{market.per_mwh:f}",
            "document": market.document_id,
            "revision": market.revision,
        }
    return written


def _rate(percent: object) -> float | None:
    """A JSON number: no amount, so its shortest float form says the same as the Decimal."""
    return None if percent is None else float(str(percent))


def notes(tariff: Tariff, curve: Curve) -> list[str]:
    """What a reader must know beside the figures."""
    found = []
    if not tariff.valid_at(curve.start):
        found.append("the tariff is not valid at the session's start")
    if not tariff.states_vat and tariff.tax_included is TaxIncluded.YES:
        found.append("prices hold taxes of a rate that is not told: both totals are with taxes")
    elif not tariff.states_vat and tariff.tax_included is TaxIncluded.NO:
        found.append("the tariff names no VAT: the total with VAT is not known")
    if any(element.restrictions.by_current for element in tariff.elements):
        found.extend(
            f"segments[{i}].current_a is not given and taken as the power at 230 V"
            for i, segment in enumerate(curve.segments)
            if segment.kind is SegmentKind.CHARGING and segment.current_a is None
        )
    return found
