"""`/v1/tariffs`: what a kilowatt-hour or an hour costs, as OCPI's Tariff object.

Prices are JSON numbers and stay exact: bodies are read and written with decimals, never floats.
"""

from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, Query, Request, Response
from fastapi.exceptions import RequestValidationError
from pydantic import BaseModel, Field, ValidationError

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output, Text
from api.pagination import After, Cursors, Limit, PageOut
from csms.errors import InvalidInput, NotFound
from csms.store.paging import Page
from csms.tariffs.assignment import Assignment
from csms.tariffs.document import dump_json, load_json
from csms.tariffs.stored import StoredTariff
from csms.tariffs.writing import Edition, write_tariff

M = TypeVar("M", bound=Input)
router = APIRouter(prefix="/tariffs", tags=["tariffs"], route_class=GuardedRoute)
cursors = Cursors("tariffs")
assignment_cursors = Cursors("tariff assignments")


class NewTariff(Input):
    """`document`: an OCPI Tariff object (2.2.1, or 2.3.0 with `tax_included`); its field `phaseyard` may hold
    components that OCPI does not know (SPOT, MONTHLY_FEE, CAPACITY_FEE, DISCOUNT, CAP)."""

    id: Ident | None = None
    site_id: Ident
    name: Text
    document: dict[str, Any]


class TariffOut(Output):
    """A tariff; it is never changed, as sessions were priced by it."""

    id: str
    site_id: str
    name: str
    document: dict[str, Any]
    created_at: Instant


class NewAssignment(Input):
    """For all who charge at the site, or narrowed to a station, and to a group or to guests.

    Of two that fit a session the narrower wins, then the one that began later.
    """

    id: Ident | None = None
    site_id: Ident
    station_id: Ident | None = None
    group_id: Ident | None = None
    guests: bool = Field(default=False, description="Who charges without being a member")
    valid_from: Instant | None = None
    valid_to: Instant | None = None


class AssignmentOut(Output):
    """Which sessions a tariff prices: those that start from `valid_from` on and before `valid_to`."""

    id: str
    tariff_id: str
    site_id: str
    station_id: str | None
    group_id: str | None
    guests: bool
    valid_from: Instant | None
    valid_to: Instant | None = Field(validation_alias="valid_until")


class Ending(Input):
    """When an assignment ends; left out: now."""

    at: Instant | None = None


class Wanted(Input):
    """An imagined session (`start_local`, `time_zone`, `segments`: the format of `phaseyard price`), and
    a tariff: the id of one that is kept, or a document. `member_id`: who would pay; left out, a guest."""

    tariff_id: Ident | None = None
    document: dict[str, Any] | None = None
    session: dict[str, Any]
    member_id: Ident | None = None


class QuoteOut(Output):
    """What the session would cost. Each line says why it is there; amounts are decimal strings."""

    currency: str
    total_excl_vat: str
    total_incl_vat: str | None = Field(description="Null where the tariff does not tell the VAT")
    limit_applied: str | None = Field(description="`min_price` or `max_price` when it set a total")
    lines: list[dict[str, Any]]
    vat: list[dict[str, Any]]
    notes: list[str]


def _body(model: type[BaseModel]) -> dict[str, Any]:
    """The description of a body that is read with exact numbers."""
    schema = model.model_json_schema(ref_template="#/components/schemas/{model}")
    return {"requestBody": {"required": True, "content": {"application/json": {"schema": schema}}}}


_OBJECT: dict[int | str, dict[str, Any]] = {
    200: {"description": "The OCPI object", "content": {"application/json": {"schema": {"type": "object"}}}}
}


def _answer(value: object, status: int = 200) -> Response:
    return Response(dump_json(value), status, media_type="application/json")


def _written(stored: StoredTariff) -> dict[str, object]:
    head = TariffOut(
        id=stored.id, site_id=stored.site_id, name=stored.name, document={}, created_at=stored.created_at
    )
    return head.model_dump(mode="json") | {"document": stored.document}


async def _read(request: Request, model: type[M]) -> M:
    try:
        text = (await request.body()).decode()
    except UnicodeDecodeError:
        raise InvalidInput("body", "is not UTF-8") from None
    try:
        return model.model_validate(load_json(text, "body"))
    except ValidationError as error:
        raise RequestValidationError(
            [{**fault, "loc": ("body", *fault["loc"])} for fault in error.errors(include_url=False)]
        ) from None


@router.get("", response_model=PageOut[TariffOut])
async def list_tariffs(
    central: TheCentral,
    site: Annotated[Ident | None, Query()] = None,
    limit: Limit = 50,
    after: After = None,
) -> Response:
    """Tariffs of a site or of all, by id."""
    page: Page[StoredTariff] = cursors.write(
        await central.tariffs.list(site_id=site, after=cursors.read(after), limit=limit)
    )
    return _answer({"items": [_written(stored) for stored in page.items], "next": page.next})


@router.post("", status_code=201, response_model=TariffOut, openapi_extra=_body(NewTariff))
async def create_tariff(central: TheCentral, request: Request) -> Response:
    """A new tariff, assigned to nobody yet."""
    body = await _read(request, NewTariff)
    stored = await central.tariffs.create(
        id=body.id, site_id=body.site_id, name=body.name, document=body.document
    )
    answer = _answer(_written(stored), 201)
    answer.headers["Location"] = f"/v1/tariffs/{stored.id}"
    return answer


@router.post("/preview", response_model=QuoteOut, openapi_extra=_body(Wanted))
async def preview(central: TheCentral, request: Request) -> Response:
    """Price an imagined session; nothing is kept. 409 when the market has no price for all of it."""
    body = await _read(request, Wanted)
    quote = await central.preview.quote(
        session=body.session, tariff_id=body.tariff_id, document=body.document, member_id=body.member_id
    )
    return _answer(quote)


@router.get("/{tariff_id}", response_model=TariffOut)
async def get_tariff(central: TheCentral, tariff_id: Id) -> Response:
    """One tariff."""
    return _answer(_written(await central.tariffs.get(tariff_id)))


@router.get("/{tariff_id}/ocpi", response_class=Response, responses=_OBJECT)
async def exchanged(
    central: TheCentral, tariff_id: Id, edition: Annotated[Edition, Query()] = Edition.V2_3_0
) -> Response:
    """The tariff as it goes to partners: a valid OCPI object, without components of our own."""
    return _answer(write_tariff((await central.tariffs.get(tariff_id)).tariff, edition))


@router.delete("/{tariff_id}", status_code=204)
async def delete_tariff(central: TheCentral, tariff_id: Id) -> None:
    """Remove a tariff that was never used; end the assignments of any other."""
    await central.tariffs.delete(tariff_id)


@router.get("/{tariff_id}/assignments", response_model=PageOut[AssignmentOut])
async def list_assignments(
    central: TheCentral, tariff_id: Id, limit: Limit = 50, after: After = None
) -> Page[Assignment]:
    """Which sessions the tariff prices, ended assignments among them."""
    await central.tariffs.get(tariff_id)
    return assignment_cursors.write(
        await central.tariffs.list_assignments(
            tariff_id=tariff_id, after=assignment_cursors.read(after), limit=limit
        )
    )


@router.post("/{tariff_id}/assignments", status_code=201, response_model=AssignmentOut)
async def assign(central: TheCentral, tariff_id: Id, body: NewAssignment, response: Response) -> Assignment:
    """Price sessions by the tariff; the same assignment is made once only, and comes back as it is."""
    made = await central.tariffs.assign(
        tariff_id,
        id=body.id,
        site_id=body.site_id,
        station_id=body.station_id,
        group_id=body.group_id,
        guests=body.guests,
        valid_from=body.valid_from,
        valid_to=body.valid_to,
    )
    response.headers["Location"] = f"/v1/tariffs/{made.tariff_id}/assignments/{made.id}"
    return made


@router.get("/{tariff_id}/assignments/{assignment_id}", response_model=AssignmentOut)
async def get_assignment(central: TheCentral, tariff_id: Id, assignment_id: Id) -> Assignment:
    """One assignment of the tariff."""
    return await _of(central, tariff_id, assignment_id)


@router.post("/{tariff_id}/assignments/{assignment_id}/end", response_model=AssignmentOut | None)
async def end_assignment(
    central: TheCentral, tariff_id: Id, assignment_id: Id, body: Ending | None = None
) -> Assignment | None:
    """Sessions that start from then on are priced by another. Null: it had not begun, and is gone."""
    await _of(central, tariff_id, assignment_id)
    return await central.tariffs.unassign(assignment_id, body.at if body else None)


async def _of(central: TheCentral, tariff_id: str, assignment_id: str) -> Assignment:
    found: Assignment = await central.tariffs.get_assignment(assignment_id)
    if found.tariff_id != tariff_id:
        raise NotFound("tariff assignment", assignment_id)
    return found
