"""The languages that documents are written in."""

from enum import StrEnum

from csms.errors import InvalidInput


class Language(StrEnum):
    """ISO 639-1 codes; Norwegian is Bokmål."""

    GERMAN = "de"
    ENGLISH = "en"
    NORWEGIAN = "nb"
    SWEDISH = "sv"
    DUTCH = "nl"
    FRENCH = "fr"

    @property
    def region(self) -> str:
        """ISO 3166-1: whose way of writing dates and amounts is used."""
        return _REGIONS[self]


_REGIONS = {
    Language.GERMAN: "DE",
    Language.ENGLISH: "GB",
    Language.NORWEGIAN: "NO",
    Language.SWEDISH: "SE",
    Language.DUTCH: "NL",
    Language.FRENCH: "FR",
}


def check_language(field: str, value: str) -> Language:
    """`value` as a Language; InvalidInput names the field and what there is."""
    try:
        return Language(value)
    except ValueError:
        known = ", ".join(f"{one.value} ({one.name.capitalize()})" for one in Language)
        raise InvalidInput(field, f"{value!r} is no language of ours; choose {known}") from None
