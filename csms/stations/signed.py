"""Signed meter data as a station sent it, taken out of what carried it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class SignedValue:
    """`received` is the text as it came, to be kept verbatim; `data` the signed record inside it, ""
    when it could not be got out. `encoding`, `signing` and `public_key` are the station's own words
    for them, "" where it has none. A key that came with the data proves nothing by itself.
    """

    received: str
    data: str
    encoding: str = ""
    signing: str = ""
    public_key: str = ""
