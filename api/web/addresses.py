"""Addresses of pages that several files lead to."""

from urllib.parse import quote


def address_of(site_id: str, month: str, place: str = "") -> str:
    """The page of a month; `place` is an anchor on it."""
    return f"/month/{quote(site_id)}?month={quote(month)}{place}"
