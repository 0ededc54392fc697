"""Where price documents come from: one file per kind, and this list.

A source fetches what is new and says what was wrong (`source.SourceFault`); it knows nothing of prices.
"""

from collections.abc import Mapping

from csms.errors import InvalidInput
from csms.tariffs.market.inputs.folder import FolderSource
from csms.tariffs.market.inputs.source import Source
from csms.tariffs.market.inputs.url import UrlSource

SOURCES: tuple[type[Source], ...] = (FolderSource, UrlSource)


def parse_source(settings: Mapping[str, object], path: str) -> Source:
    """The source that a feed's settings describe; InvalidInput names what is wrong with them."""
    kinds = {source.kind: source for source in SOURCES}
    kind = settings.get("kind")
    if not isinstance(kind, str) or kind not in kinds:
        raise InvalidInput(f"{path}.kind", f"must be one of {', '.join(kinds)}, is {kind!r}")
    return kinds[kind].parse(settings, path)
