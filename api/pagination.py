"""Pages by cursor: `{"items": […], "next": …}`.

`next` is given back as `after`; null on the last page. A cursor is opaque and belongs to one
list: one that we did not make, or made for another list, is refused rather than guessed at.
"""

import base64
import binascii
from dataclasses import dataclass
from typing import Annotated, Generic, TypeVar

from fastapi import Query
from pydantic import BaseModel, ConfigDict, Field

from csms.errors import InvalidInput
from csms.store.paging import LARGEST_PAGE, Page

T = TypeVar("T")

Limit = Annotated[int, Query(ge=1, le=LARGEST_PAGE, description="Most items of a page")]
After = Annotated[
    str | None, Query(max_length=1000, description="`next` of the page before; left out: the first page")
]


class PageOut(BaseModel, Generic[T]):
    """A page of a list."""

    model_config = ConfigDict(from_attributes=True)

    items: list[T]
    next: str | None = Field(description="Give it back as `after`; null: this was the last page")


@dataclass(frozen=True, slots=True)
class Cursors:
    """The cursors of the list `name`. `counted`: its keys are whole numbers."""

    name: str
    counted: bool = False

    def read(self, after: str | None) -> str | None:
        """The key in a cursor of ours. Raises InvalidInput (`after`)."""
        if after is None:
            return None
        try:
            raw = base64.b64decode(after.encode("ascii"), altchars=b"-_", validate=True)
            name, _, key = raw.decode().partition(":")
        except (binascii.Error, ValueError):
            raise _refused() from None
        sound = key.isascii() and key.isdigit() and len(key) < 19 if self.counted else key.isprintable()
        if name != self.name or not key or not sound:
            raise _refused()
        return key

    def write(self, page: Page[T]) -> Page[T]:
        """`page` with its key made a cursor."""
        if page.next is None:
            return page
        raw = f"{self.name}:{page.next}".encode()
        return Page(page.items, base64.urlsafe_b64encode(raw).decode())


def _refused() -> InvalidInput:
    return InvalidInput("after", "is no cursor of this list; give back the `next` of its last page")
