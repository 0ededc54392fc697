"""A site's place and party, as a charge detail record names them (OCPI 2.2.1, CdrLocation)."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from csms.errors import ManyInvalid


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLocation:
    """`country_code` and `party_id` are whoever runs the chargers; `country` is ISO 3166-1 alpha-3.

    Coordinates are decimal degrees as text, the connector's words those of OCPI's enums; all
    connectors of a site are alike.
    """

    country_code: str
    party_id: str
    address: str
    city: str
    postal_code: str = ""
    country: str
    latitude: str
    longitude: str
    connector_standard: str = "IEC_62196_T2"
    connector_format: str = "SOCKET"


RULES: Final[Mapping[str, tuple[str, str]]] = {
    "country_code": (r"[A-Z]{2}", "give two capital letters (ISO 3166-1 alpha-2), e.g. BE"),
    "party_id": (r"[A-Z0-9]{3}", "give three capital letters or digits"),
    "address": (r"(?!\s)[^\x00-\x1f]{1,45}", "give street and number, at most 45 characters"),
    "city": (r"(?!\s)[^\x00-\x1f]{1,45}", "give the town, at most 45 characters"),
    "postal_code": (r"[^\x00-\x1f]{0,10}", "give at most 10 characters"),
    "country": (r"[A-Z]{3}", "give three capital letters (ISO 3166-1 alpha-3), e.g. BEL"),
    "latitude": (r"-?[0-9]{1,2}\.[0-9]{5,7}", "give decimal degrees with 5 to 7 decimals, e.g. 51.04530"),
    "longitude": (r"-?[0-9]{1,3}\.[0-9]{5,7}", "give decimal degrees with 5 to 7 decimals, e.g. 3.72500"),
    "connector_standard": (r"[A-Z0-9_]{1,30}", "give a ConnectorType of OCPI, e.g. IEC_62196_T2"),
    "connector_format": (r"SOCKET|CABLE", "give SOCKET or CABLE"),
}
"""Field -> pattern (OCPI 2.2.1, 10.4.2 and 8.4.13) and what to do."""


def check_location(location: SiteLocation) -> SiteLocation:
    """The location itself. Raises ManyInvalid with all faults."""
    faults = [
        (name, problem)
        for name, (pattern, problem) in RULES.items()
        if re.fullmatch(pattern, getattr(location, name)) is None
    ]
    if faults:
        raise ManyInvalid(faults)
    return location
