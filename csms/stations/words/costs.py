"""What a station shows or calculates of costs, and payment at the station (OCPP block I, C17 to C25)."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from csms.stations.words.display import MessageText


class Weekday(StrEnum):
    MONDAY = "monday"
    TUESDAY = "tuesday"
    WEDNESDAY = "wednesday"
    THURSDAY = "thursday"
    FRIDAY = "friday"
    SATURDAY = "saturday"
    SUNDAY = "sunday"


class EvseKind(StrEnum):
    AC = "ac"
    DC = "dc"


@dataclass(frozen=True, slots=True)
class StationTax:
    """`tax` in percent; taxes of a higher `stack` apply on top of those of lower ones."""

    kind: str
    tax: Decimal
    stack: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PriceConditions:
    """When a price applies: times of day `HH:MM` and dates `YYYY-MM-DD` at the station.

    Energies in Wh, currents in A, powers in W, durations in seconds. `payment_...`: fees only.
    """

    start_time_of_day: str = ""
    end_time_of_day: str = ""
    day_of_week: tuple[Weekday, ...] = ()
    valid_from_date: str = ""
    valid_to_date: str = ""
    evse_kind: EvseKind | None = None
    min_energy_wh: Decimal | None = None
    max_energy_wh: Decimal | None = None
    min_current_a: Decimal | None = None
    max_current_a: Decimal | None = None
    min_power_w: Decimal | None = None
    max_power_w: Decimal | None = None
    min_time_s: int | None = None
    max_time_s: int | None = None
    min_charging_time_s: int | None = None
    max_charging_time_s: int | None = None
    min_idle_time_s: int | None = None
    max_idle_time_s: int | None = None
    payment_brand: str = ""
    payment_recognition: str = ""


@dataclass(frozen=True, slots=True)
class KwhPrice:
    price_kwh: Decimal
    conditions: PriceConditions | None = None


@dataclass(frozen=True, slots=True)
class MinutePrice:
    price_minute: Decimal
    conditions: PriceConditions | None = None


@dataclass(frozen=True, slots=True)
class FixedPrice:
    price_fixed: Decimal
    conditions: PriceConditions | None = None


@dataclass(frozen=True, slots=True)
class EnergyPrices:
    prices: tuple[KwhPrice, ...]
    taxes: tuple[StationTax, ...] = ()


@dataclass(frozen=True, slots=True)
class TimePrices:
    prices: tuple[MinutePrice, ...]
    taxes: tuple[StationTax, ...] = ()


@dataclass(frozen=True, slots=True)
class FixedPrices:
    prices: tuple[FixedPrice, ...]
    taxes: tuple[StationTax, ...] = ()


@dataclass(frozen=True, slots=True)
class StationAmount:
    """An amount without and with tax."""

    excl_tax: Decimal | None = None
    incl_tax: Decimal | None = None
    taxes: tuple[StationTax, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StationTariff:
    """A tariff that a station calculates with (OCPP 2.1); prices in units of `currency` (ISO 4217)."""

    tariff_id: str
    currency: str
    description: tuple[MessageText, ...] = ()
    valid_from: datetime | None = None
    energy: EnergyPrices | None = None
    charging_time: TimePrices | None = None
    idle_time: TimePrices | None = None
    fixed_fee: FixedPrices | None = None
    reservation_time: TimePrices | None = None
    reservation_fixed: FixedPrices | None = None
    min_cost: StationAmount | None = None
    max_cost: StationAmount | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class CostReported:
    """What a station calculated for a transaction by the tariff that it has (OCPP 2.1, I12).

    `kind`: normal_cost, or min_cost and max_cost where those apply. The usage is in the standard's units.
    `failed`: it could not calculate, for the reason in `failure`.
    """

    currency: str = ""
    kind: str = ""
    total: StationAmount | None = None
    fixed: StationAmount | None = None
    energy: StationAmount | None = None
    charging_time: StationAmount | None = None
    idle_time: StationAmount | None = None
    reservation_time: StationAmount | None = None
    reservation_fixed: StationAmount | None = None
    usage_energy: Decimal | None = None
    usage_charging_time: int | None = None
    usage_idle_time: int | None = None
    failed: bool = False
    failure: str = ""


@dataclass(frozen=True, slots=True)
class TellCost:
    """What a running transaction has cost so far, in the currency of the station."""

    transaction_id: str
    total: Decimal


@dataclass(frozen=True, slots=True)
class SetDefaultTariff:
    """`evse` 0: for all."""

    evse: int
    tariff: StationTariff


@dataclass(frozen=True, slots=True)
class ChangeTariff:
    """From now on a running transaction is calculated by `tariff`."""

    transaction_id: str
    tariff: StationTariff


@dataclass(frozen=True, slots=True)
class GetTariffs:
    """`data`: tuple[TariffAssignment, ...]. `evse` 0: all."""

    evse: int = 0


@dataclass(frozen=True, slots=True)
class TariffAssignment:
    """A tariff in a station: the default of EVSEs, or that of drivers."""

    tariff_id: str
    kind: str
    valid_from: datetime | None = None
    evses: tuple[int, ...] = ()
    tokens: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ClearTariffs:
    """Without ids all of the EVSE (None: of the station). `data`: tuple[(tariff id, status), ...]."""

    ids: tuple[str, ...] = ()
    evse: int | None = None


@dataclass(frozen=True, slots=True)
class TellWebPayment:
    """Somebody pays for `evse` on a page of ours; keep it free for so long."""

    evse: int
    timeout_s: int


@dataclass(frozen=True, slots=True)
class Company:
    """A company as the tax office knows it."""

    name: str
    address1: str
    city: str
    country: str
    address2: str = ""
    postal_code: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SettlementReported:
    """A payment at the station's terminal was settled, canceled, rejected or failed."""

    reference: str
    state: str
    amount: Decimal
    at: datetime
    transaction_id: str = ""
    info: str = ""
    receipt_id: str = ""
    receipt_url: str = ""
    vat_number: str = ""
    company: Company | None = None


@dataclass(frozen=True, slots=True)
class VatNumberAsked:
    """Somebody typed this VAT number at the station. Answer: VatNumberAnswer."""

    vat_number: str
    evse: int | None = None


@dataclass(frozen=True, slots=True)
class VatNumberAnswer:
    accepted: bool
    company: Company | None = None
    reason: str = ""
