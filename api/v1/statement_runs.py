"""`/v1/statement-runs`: a month's statements, previewed with their proof, and issued all at once."""

from typing import Annotated, Any

from fastapi import APIRouter, Query, Response
from pydantic import Field

from api.amounts import Day, text_of
from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output
from api.pagination import After, Cursors, Limit, PageOut
from csms.ledger.issuing.issued import Run
from csms.ledger.issuing.service import plain
from csms.ledger.statement import Statement
from csms.store.paging import Page

router = APIRouter(prefix="/statement-runs", tags=["statement runs"], route_class=GuardedRoute)
cursors = Cursors("statement runs")

Month = Annotated[str, Field(pattern=r"^\d{4}-\d{2}$", examples=["2026-11"])]


class RunIn(Input):
    """A month of a site. `issued_on`: the date on the documents; left out: today."""

    site_id: Ident
    period: Month
    issued_on: Day | None = None


class PreviewIn(Input):
    """A month of a site."""

    site_id: Ident
    period: Month


class FigureOut(Output):
    """A figure that a check rests on."""

    label: str
    value: str
    unit: str


class CheckOut(Output):
    """One of the ten reconciliations. `verdict`: PASS, FAIL or NOT MEASURED; `words`: what was found."""

    name: str
    verdict: str
    words: str
    figures: list[FigureOut]


class RunOut(Output):
    """A month that was issued, with the proof of that moment."""

    id: str
    site_id: str
    period: str
    issued_at: Instant
    currency: str
    rule_version: str
    inputs_hash: str
    proof: list[CheckOut]


class DraftOut(Output):
    """What a statement would come to."""

    member_id: str
    name: str
    period: str
    energy_wh: int
    net: str
    vat: str
    gross: str
    opening: str
    paid: str
    closing: str
    currency: str


class UnpricedOut(Output):
    """A session without a price, and why."""

    session_id: int
    reason: str


class PreviewOut(Output):
    """What issuing the month would give now. `ready`: no check fails.

    `credits` and `anew` are credit notes and statements for earlier months, when late data are made good so.
    """

    period: str
    ready: bool
    statements: list[DraftOut]
    credits: list[DraftOut]
    anew: list[DraftOut]
    checks: list[CheckOut]
    unpriced: list[UnpricedOut]


def _draft(statement: Statement) -> DraftOut:
    currency, balance = statement.currency, statement.balance
    return DraftOut(
        member_id=statement.recipient.member_id,
        name=statement.recipient.name,
        period=f"{statement.period_start:%Y-%m}",
        energy_wh=statement.energy_wh,
        net=text_of(statement.net_minor, currency),
        vat=text_of(statement.vat_minor, currency),
        gross=text_of(statement.gross_minor, currency),
        opening=text_of(balance.opening_minor, currency),
        paid=text_of(balance.paid_minor, currency),
        closing=text_of(balance.closing_minor, currency),
        currency=currency,
    )


def checks_out(checks: Any) -> list[CheckOut]:
    """Checks as they are sent."""
    return [CheckOut.model_validate(plain(check)) for check in checks]


@router.get("", response_model=PageOut[RunOut])
async def list_runs(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Page[Run]:
    """Months that were issued, by id."""
    return cursors.write(
        await central.ledger.issuing.runs(site_id=site, after=cursors.read(after), limit=limit)
    )


@router.post("", status_code=201, response_model=RunOut)
async def issue_run(central: TheCentral, body: RunIn, response: Response) -> Run:
    """Issue a month: all its statements or none. Issued again, it is the run that is there.

    Refused with the reason while the month is not over, an earlier one is missing, or a check fails.
    """
    run = await central.ledger.issuing.issue(body.site_id, body.period, body.issued_on)
    response.headers["Location"] = f"/v1/statement-runs/{run.id}"
    return run


@router.post("/preview", response_model=PreviewOut)
async def preview_run(central: TheCentral, body: PreviewIn) -> PreviewOut:
    """What issuing the month would give now, with its proof. Writes nothing."""
    found = await central.ledger.issuing.preview(body.site_id, body.period)
    return PreviewOut(
        period=found.period,
        ready=found.ready,
        statements=[_draft(statement) for statement in found.statements],
        credits=[_draft(statement) for statement in found.credits],
        anew=[_draft(statement) for statement in found.anew],
        checks=checks_out(found.checks),
        unpriced=[UnpricedOut(session_id=key, reason=reason) for key, reason in found.unpriced],
    )


@router.get("/{run_id}", response_model=RunOut)
async def get_run(central: TheCentral, run_id: Id) -> Run:
    """One run."""
    return await central.ledger.issuing.run(run_id)
