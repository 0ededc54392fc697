"""The libraries that only documents need: imported when used, and named when missing."""

import importlib
from typing import Any

from csms.errors import InvalidInput


def library(name: str) -> Any:
    """The module `name` of the extra `statements`. InvalidInput says what to install."""
    try:
        return importlib.import_module(name)
    except ModuleNotFoundError as error:
        raise InvalidInput(
            "documents", f"need the library {error.name}: install phaseyard[statements]"
        ) from error
