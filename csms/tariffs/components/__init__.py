"""The kinds of price component: one file each, and these lists. Adding one edits no other logic.

COMPONENTS are OCPI's, priced by the curve of a session; OWN are ours (`component.Own`).
"""

from collections.abc import Mapping

from csms.tariffs.component import Dimension, Kind, Own
from csms.tariffs.components.cap import Cap
from csms.tariffs.components.capacity_fee import CapacityFee
from csms.tariffs.components.discount import Discount
from csms.tariffs.components.energy import Energy
from csms.tariffs.components.flat import Flat
from csms.tariffs.components.monthly_fee import MonthlyFee
from csms.tariffs.components.parking_time import ParkingTime
from csms.tariffs.components.spot import Spot
from csms.tariffs.components.time import Time

COMPONENTS: tuple[Kind, ...] = (Flat(), Energy(), Time(), ParkingTime())
"""In the order in which lines that begin at the same moment are listed."""

KINDS: Mapping[Dimension, Kind] = {kind.dimension: kind for kind in COMPONENTS}

OWN: tuple[type[Own], ...] = (Spot, MonthlyFee, CapacityFee, Discount, Cap)

OWN_KINDS: Mapping[str, type[Own]] = {kind.type: kind for kind in OWN}
