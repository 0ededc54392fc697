"""Identifiers that we make ourselves.

Public ids are a short prefix that says what the thing is and a random part of 60 bits in
Crockford's base 32 (no I, L, O, U), so that they can be read out over a telephone.
"""

import secrets

_ALPHABET = "0123456789abcdefghjkmnpqrstvwxyz"


def new_id(prefix: str) -> str:
    """A new public id, e.g. `mem_4k9t0x2b7fqa`."""
    return f"{prefix}_" + "".join(secrets.choice(_ALPHABET) for _ in range(12))


def new_secret() -> str:
    """A random secret of 32 characters (160 bits) for keys and passwords that we hand out."""
    return "".join(secrets.choice(_ALPHABET) for _ in range(32))
