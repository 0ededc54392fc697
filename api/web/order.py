"""The order in which people look for names: Flat 2 before Flat 10. Pure."""


def natural(text: str) -> tuple[tuple[bool, int, str], ...]:
    """A key to sort by: runs of digits count as numbers, case does not count."""
    parts: list[tuple[bool, int, str]] = []
    digits = ""
    for letter in f"{text.casefold()}\0":
        if letter.isdecimal():
            digits += letter
            continue
        if digits:
            parts.append((False, int(digits), ""))
            digits = ""
        parts.append((True, 0, letter))
    return tuple(parts)
