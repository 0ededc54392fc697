"""The order in which people look for names: Flat 2 before Flat 10. Pure."""

import itertools


def natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """A key to sort by: runs of digits count as numbers, case does not count."""
    runs = ("".join(run) for _, run in itertools.groupby(text.casefold(), str.isdecimal))
    return tuple((False, int(run), "") if run.isdecimal() else (True, 0, run) for run in runs)
