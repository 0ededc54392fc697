"""Paper by typst: PDF/A-3b (ISO 19005-3), nothing taken from the machine or a network.

The data go in as JSON text and are set as text, so no sign in a name can be a command. The time in the
document is noon of the day of issue: the same data give the same bytes. Call it from a thread; typst
gives the interpreter free while it works.
"""

import functools
import json
import re
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from pathlib import Path
from typing import Any

from csms.documents.extra import library
from csms.errors import InvalidInput

TEMPLATE = Path(__file__).parent / "statement.typ"
MISSING = "\N{WHITE SQUARE}"
"""Stands for a sign that the fonts do not have; a document without it would be no PDF/A."""
MOST_MISSING = 100

_NO_GLYPH = re.compile(r'the text `"(.+?)"` could not be displayed', re.DOTALL)


def pdf(paper: Mapping[str, Any], issued_on: date) -> bytes:
    """The document as PDF/A-3b. InvalidInput when typst is not installed or cannot set it."""
    made: bytes = _compile(paper, issued_on, format="pdf", pdf_standards=["a-3b"])
    return made


def pictures(paper: Mapping[str, Any], issued_on: date, ppi: float = 72) -> list[bytes]:
    """Every page as PNG."""
    made = _compile(paper, issued_on, format="png", ppi=ppi)
    return [made] if isinstance(made, bytes) else list(made)


def _compile(paper: Mapping[str, Any], issued_on: date, **how: Any) -> Any:
    typst = library("typst")
    data = json.dumps(paper, ensure_ascii=False, separators=(",", ":"))
    for _ in range(MOST_MISSING):
        try:
            return typst.compile(
                _template(),
                font_paths=_fonts(),
                sys_inputs={"data": data},
                timestamp=datetime.combine(issued_on, time(12), tzinfo=UTC),
                **how,
            )
        except typst.TypstError as error:
            missing = _NO_GLYPH.search(str(error))
            text = missing[1] if missing else ""
            if not text or text not in data:
                raise InvalidInput("document", f"cannot be set: {error.message}") from error
            data = data.replace(text, MISSING)
    raise InvalidInput("document", f"has more than {MOST_MISSING} signs that our fonts do not have")


@functools.cache
def _template() -> bytes:
    return TEMPLATE.read_bytes()


@functools.cache
def _fonts() -> Any:
    return library("typst").Fonts(include_system_fonts=False)
