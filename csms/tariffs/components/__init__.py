"""The kinds of price component: one file each, and this list. Adding one edits no other logic."""

from collections.abc import Mapping

from csms.tariffs.component import Dimension, Kind
from csms.tariffs.components.energy import Energy
from csms.tariffs.components.flat import Flat
from csms.tariffs.components.parking_time import ParkingTime
from csms.tariffs.components.time import Time

COMPONENTS: tuple[Kind, ...] = (Flat(), Energy(), Time(), ParkingTime())
"""In the order in which lines that begin at the same moment are listed."""

KINDS: Mapping[Dimension, Kind] = {kind.dimension: kind for kind in COMPONENTS}
