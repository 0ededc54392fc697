"""When so many chargers of a site are gone that it is the network and not they."""

LEAST = 3
SHARE = 1 / 3
"""Common practice: a third at once is no coincidence."""


def is_crowd(lost: int, all_of_them: int) -> bool:
    return lost >= LEAST and lost >= SHARE * all_of_them
