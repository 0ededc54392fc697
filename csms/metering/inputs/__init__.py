"""The kinds of building meter, one file each: settings, checked when made, and how they are listened to.

To add one: a file with a frozen dataclass as `csms.metering.meter_input.MeterInput` says, a line in
INPUTS, a row in the shared suite (tests/csms/metering/inputs/), a model in `api/v1/meters.py`.
"""

from collections.abc import Mapping

from csms.errors import InvalidInput
from csms.metering.inputs.modbus import ModbusInput
from csms.metering.inputs.mqtt import MqttInput
from csms.metering.inputs.p1 import P1Input
from csms.metering.inputs.rest import RestInput
from csms.metering.inputs.station import StationInput
from csms.metering.meter_input import MeterInput

INPUTS: tuple[type[MeterInput], ...] = (RestInput, MqttInput, ModbusInput, P1Input, StationInput)


def parse_input(given: Mapping[str, object] | None, path: str = "meter.input") -> MeterInput:
    """The settings in `given` (`{"kind": …, …}`); None: readings are pushed by REST.

    Raises InvalidInput with the path of what is wrong.
    """
    if given is None:
        return RestInput()
    kinds = {each.kind: each for each in INPUTS}
    if not isinstance(given, Mapping):
        raise InvalidInput(path, f"must be a mapping with kind: {', '.join(kinds)}")
    kind = given.get("kind")
    if not isinstance(kind, str) or kind not in kinds:
        raise InvalidInput(f"{path}.kind", f"{kind!r} is none of {', '.join(kinds)}")
    return kinds[kind].parse(given, path)
