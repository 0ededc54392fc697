"""`/v1/circuits/{id}/meter`: where the building's readings come from, and how its meter does."""

from typing import Annotated, Any, Literal

from fastapi import APIRouter
from pydantic import BeforeValidator, Field

from api.auth import GuardedRoute
from api.deps import TheCentral
from api.fields import Id, Ident, Input, Instant, Output
from csms.metering.inputs import parse_input
from csms.sites.model import CircuitMeter, MeterCounts

router = APIRouter(prefix="/circuits", tags=["circuits"], route_class=GuardedRoute)

LineName = Literal["L1", "L2", "L3"]
Host = Annotated[str, Field(min_length=1, max_length=255, examples=["10.0.0.7"])]
Port = Annotated[int, Field(ge=1, le=65_535)]
Factor = Annotated[float, Field(ge=-1e9, le=1e9, description="A number to multiply with, not 0")]
JsonPath = Annotated[str, Field(min_length=1, max_length=255, examples=["phases[0].current"])]
Topic = Annotated[str, Field(min_length=1, max_length=255, examples=["house/meter"])]
SecretFile = Annotated[
    str,
    Field(
        pattern=r"^[a-z0-9][a-z0-9._-]{0,63}$",
        description="Name of a file in the folder `secrets` of the data folder",
    ),
]


class RestSource(Input):
    """Readings are pushed to `/v1/circuits/{id}/readings`."""

    kind: Literal["rest"]


class LinePlaceIn(Input):
    """Where a line's current is told: its own topic, and the path in the message (`$`: all of it)."""

    topic: Topic | None = Field(default=None, description="Left out: the common topic")
    path: JsonPath = "$"


class MqttSource(Input):
    """A broker's messages. A text for a line is its path in the messages of `topic`."""

    kind: Literal["mqtt"]
    host: Host
    port: Port = Field(default=1883, description="Left out: 1883, with TLS 8883")
    topic: Topic | None = None
    lines: dict[LineName, JsonPath | LinePlaceIn] = Field(min_length=1)
    factor: Factor = 1.0
    time: JsonPath | None = Field(default=None, description="Where the message has its own time")
    user: Annotated[str, Field(min_length=1, max_length=255)] | None = None
    password_file: SecretFile | None = None
    tls: bool = False
    ca_file: SecretFile | None = Field(default=None, description="Certificates to trust, besides TLS")


class LineRegisterIn(Input):
    """`address` counts from 0; current in A = value x `scale`."""

    address: int = Field(ge=0, le=65_535)
    type: Literal["u16", "i16", "u32", "i32", "float32"] = "u16"
    count: int = Field(default=1, ge=1, le=2, description="Left out: as the type has it")
    scale: Factor = 1.0


class ModbusSource(Input):
    """Registers by Modbus TCP, asked every `period_s` of the meter."""

    kind: Literal["modbus"]
    host: Host
    port: Port = 502
    unit_id: int = Field(default=1, ge=0, le=255)
    table: Literal["holding", "input"] = "holding"
    word_order: Literal["big", "little"] = "big"
    lines: dict[LineName, LineRegisterIn] = Field(min_length=1)


class P1Source(Input):
    """Telegrams of a P1 port (DSMR) over TCP."""

    kind: Literal["p1"]
    host: Host
    port: Port


class StationSource(Input):
    """A charger's own mains meter, by OCPP. `lines`: where its L1, L2, L3 are put on."""

    kind: Literal["station"]
    station_id: Ident
    lines: list[LineName] = Field(default=["L1", "L2", "L3"], min_length=3, max_length=3)


Source = Annotated[
    RestSource | MqttSource | ModbusSource | P1Source | StationSource, Field(discriminator="kind")
]


class MeterIn(Input):
    """The building is measured here: everything but our chargers (`base`), or all (`total`)."""

    counts: MeterCounts = Field(strict=False)
    period_s: float = Field(gt=0, le=3600)
    input: Source | None = Field(default=None, description="Left out: readings are pushed by REST")

    def meter(self) -> CircuitMeter:
        """As it is kept. Raises InvalidInput for what the types above do not see."""
        if self.input is None:
            return CircuitMeter(self.counts, self.period_s)
        given = self.input.model_dump(exclude_unset=True, exclude_none=True)
        parse_input(given)
        return CircuitMeter(self.counts, self.period_s, given)


def _plain(value: Any) -> Any:
    return dict(value) if value is not None else None


class MeterOut(Output):
    """How the building is measured at a circuit. `input` null: readings are pushed by REST."""

    counts: MeterCounts
    period_s: float
    input: Annotated[dict[str, Any] | None, BeforeValidator(_plain)]


class ReadingOut(Output):
    """A per line; a line that the meter did not tell is left out."""

    at: Instant
    current_a: dict[str, float] = Field(validation_alias="told")


class MeterStatusOut(Output):
    """How a meter does. `fresh` false: it is silent, and power counts with the worst case.

    `missing`: lines that the last reading did not have; for them the worst case counts too.
    `error`: what is wrong now, for people; "" when nothing.
    """

    circuit_id: str
    kind: str
    period_s: float
    silent_after_s: float
    last: ReadingOut | None
    age_s: float | None
    fresh: bool
    missing: tuple[str, ...]
    error: str


@router.get("/{circuit_id}/meter", response_model=MeterStatusOut)
async def meter_status(central: TheCentral, circuit_id: Id) -> Any:
    """The meter's last reading, its age, and what keeps it from being read."""
    return await central.meters.status(circuit_id)
