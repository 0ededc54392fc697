"""Account numbers by ISO 13616."""

import re

_SHAPE = re.compile(r"[A-Z]{2}\d{2}[A-Z0-9]{11,30}")


def is_iban(account: str) -> bool:
    """Whether `account`, without blanks, is an IBAN with the right check digits (ISO 7064 MOD 97-10)."""
    if not _SHAPE.fullmatch(account):
        return False
    turned = account[4:] + account[:4]
    return int("".join(str(int(sign, 36)) for sign in turned)) % 97 == 1
