"""Writes a migration from what the tables say and the last migration does not.

    python -m tools.new_migration 0002 "Add the alarms"

The result is a draft: read it, and try it on both databases (the tests do).
"""

import sys
import tempfile
from pathlib import Path

from sqlalchemy import create_engine

from csms.store.migrate import bring_up_to_date, config
from csms.store.types import Document, Instant, RowId


def render_item(kind: str, item: object, context: object) -> str | bool:
    """Keep our own types by name."""
    if kind != "type":
        return False
    names = {"Instant()": isinstance(item, Instant), "Document": item is Document, "RowId": item is RowId}
    for text, fits in names.items():
        if fits:
            context.imports.add("from csms.store.types import Document, Instant, RowId")  # type: ignore[attr-defined]
            return text
    return False


def main() -> None:
    from alembic import command

    number, message = sys.argv[1:3]
    with tempfile.TemporaryDirectory() as folder:
        engine = create_engine(f"sqlite:///{Path(folder, 'draft.db')}")
        with engine.connect() as connection:
            bring_up_to_date(connection)
            draft = config(connection)
            draft.attributes["render_item"] = render_item
            command.revision(draft, message, autogenerate=True, rev_id=number)


if __name__ == "__main__":
    main()
