from dataclasses import replace

import pytest

from csms.errors import InvalidInput
from csms.stations.quirks.quirk import Quirk, check, most_exact

KWH = Quirk(id=1, vendor="Weir", model="Sluice 22", energy_factor=1000.0)


@pytest.mark.parametrize(
    ("told", "fits"),
    [
        (("Weir", "Sluice 22", ""), True),
        (("WEIR", "sluice 22", "9"), True),
        (("Weir", "Sluice 220", ""), False),
        (("", "Sluice 22", ""), False),
    ],
)
def test_it_fits_by_vendor_and_model(told: tuple[str, str, str], fits: bool) -> None:
    assert KWH.fits(*told) is fits


def test_the_one_that_names_most_counts() -> None:
    vendor = Quirk(id=2, vendor="Weir", power_factor=10.0)
    firmware = replace(KWH, id=3, firmware="1.4")
    newer = replace(KWH, id=4)
    found = most_exact([vendor, firmware, KWH, newer], "Weir", "Sluice 22", "1.4.2")
    assert found is firmware
    assert most_exact([vendor, firmware, KWH, newer], "Weir", "Sluice 22", "2.0") is newer
    assert most_exact([vendor, firmware], "Weir", "Flume", "") is vendor
    assert most_exact([firmware], "Weir", "Sluice 22", "2.0") is None


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        (Quirk(energy_factor=1000.0), "vendor"),
        (Quirk(vendor="Weir"), "energy_factor"),
        (Quirk(vendor="Weir", current_factor=0.0), "current_factor"),
        (Quirk(vendor="Weir", power_factor=float("nan")), "power_factor"),
        (Quirk(vendor="Weir", power_factor=1e7), "power_factor"),
        (Quirk(vendor="Weir", zone="../etc"), "zone"),
        (Quirk(vendor="Weir", false_z=True), "zone"),
    ],
)
def test_what_cannot_be_applied_is_refused_by_the_name_of_its_field(wrong: Quirk, field: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        check(wrong)
    assert refused.value.field == field


def test_a_zone_alone_is_enough() -> None:
    quirk = Quirk(model="Lade", zone="Europe/Amsterdam")
    assert check(quirk) is quirk
