"""OCPP 2.1: what 2.0.1 has, and blocks Q, R and S, in the words of `csms.stations`.

A block that is the same as in 2.0.1 is that one (`csms.ocpp.v201`): the rows that are spelled by the
schema are spelled by 2.1's. A file here has what is new or different, under the block's name.
Properties keep the wire's names (`limit_L2`, `fixedPFAbsorb`), tied to ours by `csms.ocpp.keys`.

NotifyPeriodicEventStream comes as SEND and gets no answer; an answer of a station that we cannot
use is told to it by CALLRESULTERROR (`csms.ocpp.rpc`). Sources: OCPP 2.1 edition 1 part 0 and
errata 2025-09, the schemas in the package `ocpp`; the main text of its part 2 was not read.
"""

from csms.ocpp.adapter import Adapter
from csms.ocpp.translator import Block, Translator
from csms.ocpp.v21 import (
    authorization,
    battery,
    costs,
    der,
    limits,
    lists,
    monitoring,
    network,
    provisioning,
    remote,
    security,
    smart_charging,
    transactions,
)
from csms.ocpp.v201 import BLOCKS as BEFORE
from csms.ocpp.v201.spelling import specials
from csms.ocpp.version import Version

BLOCKS: tuple[Block, ...] = (
    *BEFORE,
    provisioning,
    authorization,
    transactions,
    remote,
    smart_charging,
    limits,
    network,
    security,
    lists,
    costs,
    monitoring,
    battery,
    der,
)


class Adapter21(Translator):
    """The translator of OCPP 2.1."""

    def __init__(self) -> None:
        super().__init__(
            Version.OCPP21, BLOCKS, specials(authorization.read_token, authorization.write_token)
        )


ADAPTER: Adapter = Adapter21()
