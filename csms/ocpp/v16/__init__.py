"""OCPP 1.6J: all six profiles and the security white paper in the words of `csms.stations`.

One file per functional block, with the names that the blocks have in every version; the
rows of each block's tables say which messages there are. A connector is an EVSE with one
connector; connector 0 is the station.

A start has no id yet: the answer gives it, an integer as the station must use it. Sources: OCPP 1.6
edition 2 with errata 4.0, the schemas in the package `ocpp`.
"""

from csms.ocpp import vendor
from csms.ocpp.adapter import Adapter
from csms.ocpp.translator import Translator
from csms.ocpp.v16 import (
    authorization,
    availability,
    firmware,
    lists,
    metering,
    provisioning,
    remote,
    security,
    smart_charging,
    transactions,
    variables,
)
from csms.ocpp.version import Version


class Adapter16(Translator):
    """The translator of OCPP 1.6J."""

    def __init__(self) -> None:
        super().__init__(
            Version.OCPP16,
            (
                provisioning,
                authorization,
                transactions,
                availability,
                metering,
                remote,
                smart_charging,
                variables,
                security,
                firmware,
                lists,
                vendor,
            ),
        )


ADAPTER: Adapter = Adapter16()
