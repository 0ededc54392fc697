"""Site files written as briefly as a test can say them."""

from collections.abc import Callable

import pytest

from csms.sitefile.description import Description
from csms.sitefile.parsing import parse

SITE = """\
site: {id: yard, name: Weavers' Yard, time_zone: Europe/Amsterdam, currency: EUR, system: TN-400}
"""

Describe = Callable[..., Description]


@pytest.fixture
def site_text() -> Callable[..., str]:
    """A file of circuits and stations, each a flow mapping without its braces, one a line from line 3."""

    def text(circuits: list[str], stations: list[str] | None = None, *, system: str = "TN-400") -> str:
        lines = [f"  - {{{each}}}" for each in circuits]
        lines += ["stations:"] + [f"  - {{{each}}}" for each in stations] if stations else []
        return SITE.replace("TN-400", system) + "circuits:\n" + "\n".join(lines) + "\n"

    return text


@pytest.fixture
def describe(site_text: Callable[..., str]) -> Describe:
    """A description without a fault in its writing."""

    def described(
        circuits: list[str], stations: list[str] | None = None, *, system: str = "TN-400"
    ) -> Description:
        parsed = parse(site_text(circuits, stations, system=system))
        assert parsed.faults == ()
        assert parsed.description is not None
        return parsed.description

    return described
