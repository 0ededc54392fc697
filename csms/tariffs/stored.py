"""A tariff as it is kept, and the one that was chosen for a session."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from csms.errors import InvalidInput, OurFault
from csms.tariffs.assignment import Assignment
from csms.tariffs.document import dump_json, load_json
from csms.tariffs.parsing import parse_tariff
from csms.tariffs.tariff import Tariff

LONGEST_DOCUMENT = 200_000
"""Characters of JSON; the longest of the standard's examples has 4000."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredTariff:
    """`document` is the OCPI Tariff object as it was given, its numbers exact; `tariff` what it says.

    A stored tariff is never changed: sessions were priced by it.
    """

    id: str
    site_id: str
    name: str
    document: Mapping[str, object]
    tariff: Tariff = field(repr=False)
    created_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Chosen:
    """The tariff of a session and why it is this one; None when none is assigned to such a session."""

    tariff: StoredTariff | None
    assignment: Assignment | None
    reason: str


def freeze(document: Mapping[str, object], path: str) -> str:
    """A tariff's document as JSON text; InvalidInput (`path`) when it is too large to be one."""
    try:
        text = dump_json(document)
    except RecursionError:
        raise InvalidInput(path, "nested too deeply to be a tariff") from None
    if len(text) > LONGEST_DOCUMENT:
        raise InvalidInput(path, f"has {len(text)} characters; at most {LONGEST_DOCUMENT} are kept")
    return text


def thaw(text: str, tariff_id: str) -> tuple[Mapping[str, object], Tariff]:
    """The document of such a text, and the tariff that it says."""
    path = f"tariff {tariff_id}"
    try:
        document = load_json(text, path)
        tariff = parse_tariff(document, path)
    except InvalidInput as error:
        raise OurFault(f"what is stored as {path} is none: {error}") from error
    assert isinstance(document, dict)
    return document, tariff
