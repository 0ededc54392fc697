"""Commands, results and profiles as JSON, for the journal and for facts. Secrets are left out."""

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from datetime import UTC, datetime
from enum import Enum
from typing import Any

from csms.stations.model import VariableValue

MASK = "***"

SECRET_FIELDS = frozenset({"password", "shared_key", "sim_pin"})
"""Fields of commands that hold a secret."""

_SECRETS = ("authorizationkey", "password")
"""What in the path of a variable says that its value is a secret (OCPP 1.6 and 2.x names, folded)."""


def _field(name: str, value: object) -> Any:
    return MASK if name in SECRET_FIELDS and value not in (None, "") else plain(value)


def plain(value: object) -> Any:
    """`value` of dataclasses, enums, instants and containers as JSON values.

    Instants are ISO 8601 in UTC. The value of a variable that holds a key is masked: it must
    not be found in a journal. What is none of these becomes its text.
    """
    if value is None or isinstance(value, bool | int | float):
        return value
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, str):
        return storable(value)
    if isinstance(value, datetime):
        return value.astimezone(UTC).isoformat()
    if isinstance(value, VariableValue) and is_secret(value.path) and value.value is not None:
        return {"path": value.path, "value": MASK, "readonly": value.readonly}
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: _field(field.name, getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, Mapping):
        return {str(key): plain(item) for key, item in value.items()}
    if isinstance(value, Sequence):
        return [plain(item) for item in value]
    return str(value)


def storable(text: str) -> str:
    """`text` without what PostgreSQL keeps neither as text nor in JSON: NUL and halves of surrogate pairs."""
    return text.replace("\0", "").encode("utf-8", "replace").decode()


def is_secret(path: str) -> bool:
    """Whether the variable at `path` holds a key or a password."""
    folded = path.lower()
    return any(secret in folded for secret in _SECRETS)
