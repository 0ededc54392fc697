"""`/v1/sites/{id}/prices`: what a kWh costs in which hour, for the plan. Nobody is billed by it."""

from decimal import Decimal, InvalidOperation

from fastapi import APIRouter
from pydantic import Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Input, Instant, Output
from csms.errors import InvalidInput
from csms.power.planner.prices import MOST_SLICES, Prices, PriceSlice

router = APIRouter(prefix="/sites", tags=["plans"], route_class=GuardedRoute)


class PriceIn(Input):
    """From `start` to before `end` a kWh costs `per_kwh`, as decimal text with up to six decimals."""

    start: Instant
    end: Instant
    per_kwh: str = Field(pattern=r"^-?\d{1,7}(\.\d{1,6})?$", examples=["0.2731"])


class PricesIn(Input):
    """Prices without gaps or overlaps, in any order, in the site's currency."""

    currency: str = Field(pattern="^[A-Z]{3}$", examples=["EUR"])
    prices: list[PriceIn] = Field(min_length=1, max_length=MOST_SLICES)


class PriceOut(Output):
    """A price per kWh from `start` to before `end`."""

    start: Instant
    end: Instant
    per_kwh: str


class PricesOut(Output):
    """What was put for a site, in order of time."""

    currency: str
    prices: list[PriceOut]


@router.get("/{site_id}/prices", response_model=PricesOut)
async def get_prices(central: TheCentral, site_id: Id) -> PricesOut:
    """The prices that were put for this site."""
    return _shown(await central.planning.prices.get(site_id))


@router.put("/{site_id}/prices", response_model=PricesOut)
async def put_prices(central: TheCentral, site_id: Id, body: PricesIn) -> PricesOut:
    """These in place of all that were put before. The site is planned anew."""
    slices = [
        PriceSlice(price.start, price.end, _amount(f"prices[{i}].per_kwh", price.per_kwh))
        for i, price in enumerate(body.prices)
    ]
    return _shown(await central.planning.prices.replace(site_id, body.currency, slices))


@router.delete("/{site_id}/prices", status_code=204)
async def forget_prices(central: TheCentral, site_id: Id) -> None:
    """Take them back. Other sources of prices count, where there are any."""
    await central.planning.prices.forget(site_id)


def _amount(field: str, text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation:
        raise InvalidInput(field, "give a decimal number as text") from None


def _shown(prices: Prices) -> PricesOut:
    return PricesOut(
        currency=prices.currency,
        prices=[
            PriceOut(start=each.start, end=each.end, per_kwh=f"{each.per_kwh:f}") for each in prices.slices
        ],
    )
