"""OCPP 2.0.1: provisioning to smart charging in the words of `csms.stations`.

One file per functional block, with the names that the blocks have in every version; the
rows of each block's tables say which messages there are.

The station makes the transaction's id and reports each step as a fact: no answer refuses it.
Sources: OCPP 2.0.1 edition 3 with errata, the schemas in the package `ocpp`.
"""

from csms.ocpp import vendor
from csms.ocpp.adapter import Adapter
from csms.ocpp.translator import Translator
from csms.ocpp.v201 import (
    authorization,
    availability,
    metering,
    provisioning,
    remote,
    smart_charging,
    transactions,
    variables,
)
from csms.ocpp.version import Version


class Adapter201(Translator):
    """The translator of OCPP 2.0.1."""

    def __init__(self) -> None:
        super().__init__(
            Version.OCPP201,
            (
                provisioning,
                authorization,
                transactions,
                availability,
                metering,
                remote,
                smart_charging,
                variables,
                vendor,
            ),
        )


ADAPTER: Adapter = Adapter201()
