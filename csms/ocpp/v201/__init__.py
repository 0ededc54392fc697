"""OCPP 2.0.1: all of it, blocks A to P, in the words of `csms.stations`.

One file per functional block, with the names that the blocks have in every version; the
rows of each block's tables say which messages there are.

The station makes the transaction's id and reports each step as a fact: no answer refuses it.
Sources: OCPP 2.0.1 edition 3 with errata, the schemas in the package `ocpp`.
"""

from csms.ocpp import vendor
from csms.ocpp.adapter import Adapter
from csms.ocpp.translator import Block, Translator
from csms.ocpp.v201 import (
    authorization,
    availability,
    costs,
    display,
    firmware,
    limits,
    lists,
    metering,
    monitoring,
    needs,
    network,
    provisioning,
    remote,
    security,
    smart_charging,
    transactions,
    variables,
)
from csms.ocpp.v201.spelling import specials
from csms.ocpp.version import Version

BLOCKS: tuple[Block, ...] = (
    provisioning,
    authorization,
    transactions,
    availability,
    metering,
    remote,
    smart_charging,
    needs,
    limits,
    variables,
    network,
    security,
    lists,
    costs,
    firmware,
    monitoring,
    display,
    vendor,
)


class Adapter201(Translator):
    """The translator of OCPP 2.0.1."""

    def __init__(self) -> None:
        super().__init__(
            Version.OCPP201, BLOCKS, specials(authorization.read_token, authorization.write_token)
        )


ADAPTER: Adapter = Adapter201()
