"""A quirk: which stations have it, and what is put right."""

from collections.abc import Iterable
from dataclasses import dataclass
from zoneinfo import ZoneInfo

from csms.errors import InvalidInput

LARGEST_FACTOR = 1_000_000.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Quirk:
    """Told values times the factor are Wh, W and A. `zone`: IANA name of the zone of times without one;
    `false_z`: times with a `Z` are in that zone too. `firmware`: how the version begins."""

    id: int = 0
    vendor: str = ""
    model: str = ""
    firmware: str = ""
    energy_factor: float = 1.0
    power_factor: float = 1.0
    current_factor: float = 1.0
    zone: str = ""
    false_z: bool = False
    note: str = ""

    @property
    def scales(self) -> bool:
        return (self.energy_factor, self.power_factor, self.current_factor) != (1.0, 1.0, 1.0)

    def fits(self, vendor: str, model: str, firmware: str) -> bool:
        """Whether a station that tells this of itself has it; case does not count."""
        return (
            self.vendor.casefold() in ("", vendor.casefold())
            and self.model.casefold() in ("", model.casefold())
            and firmware.casefold().startswith(self.firmware.casefold())
        )


def check(quirk: Quirk) -> Quirk:
    """`quirk` when it can be applied. Raises InvalidInput."""
    if not quirk.vendor and not quirk.model:
        raise InvalidInput("vendor", "name a vendor or a model: a quirk of all stations is none")
    for name in ("energy_factor", "power_factor", "current_factor"):
        if not 0 < getattr(quirk, name) <= LARGEST_FACTOR:
            raise InvalidInput(
                name, f"must be above 0 and at most {LARGEST_FACTOR:.0f}; 1 leaves values as told"
            )
    if quirk.zone:
        try:
            ZoneInfo(quirk.zone)
        except (KeyError, ValueError, OSError):
            raise InvalidInput("zone", "is no time zone; give an IANA name, e.g. Europe/Amsterdam") from None
    elif quirk.false_z:
        raise InvalidInput("zone", "is missing: say in which zone the times with a false Z are")
    if not quirk.scales and not quirk.zone:
        raise InvalidInput("energy_factor", "nothing is put right: give a factor other than 1, or a zone")
    return quirk


def most_exact(quirks: Iterable[Quirk], vendor: str, model: str, firmware: str) -> Quirk | None:
    """The quirk of a station; of several that fit the one that names most, then the newest."""
    fitting = [quirk for quirk in quirks if quirk.fits(vendor, model, firmware)]
    return max(
        fitting,
        key=lambda quirk: (len(quirk.firmware), bool(quirk.model), bool(quirk.vendor), quirk.id),
        default=None,
    )
