"""What documents say, in every language: the catalogues, read once.

`catalogues/de.po` and its like are gettext catalogues, read as they are: there is no compiled
copy that could be older than its source. A message's id is a name such as `pay.until`, not an
English sentence, so that English is a translation like the others and may be mended alone.
"""

import functools
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from csms.documents.extra import library
from csms.documents.language import Language
from csms.errors import OurFault

FOLDER = Path(__file__).parent / "catalogues"


@dataclass(frozen=True, slots=True)
class Words:
    """The words of one language."""

    language: Language
    messages: Mapping[str, str]

    def say(self, message_id: str, values: Mapping[str, str]) -> str:
        """The message with its `{placeholders}` filled in. OurFault for an id that no catalogue has."""
        text = self.messages.get(message_id)
        if text is None:
            raise OurFault(f"the catalogue {self.language.value}.po has no message {message_id!r}")
        return text.format_map(values)

    def knows(self, message_id: str) -> bool:
        """Whether there is such a message."""
        return message_id in self.messages


@functools.cache
def words_of(language: Language) -> Words:
    """The catalogue of `language`. InvalidInput when the extra `statements` is not installed."""
    pofile = library("babel.messages.pofile")
    with (FOLDER / f"{language.value}.po").open("rb") as file:
        catalogue = pofile.read_po(file, locale=language.value)
    messages = {str(m.id): str(m.string) for m in catalogue if m.id and m.string and not m.fuzzy}
    return Words(language, messages)
