"""Where a value stands in a JSON document: `phases[0].current`, or `$` for the document itself."""

import re

_STEP = re.compile(r"(?:^|\.)([A-Za-z0-9_:@/ -]{1,80})|\[([0-9]{1,4})\]")
MOST_STEPS = 16


def parse_path(text: str) -> tuple[str | int, ...]:
    """The steps of a path: keys and places in lists. ValueError when it is none."""
    rest = text[1:].removeprefix(".") if text.startswith("$") else text
    steps: list[str | int] = []
    position = 0
    while position < len(rest):
        match = _STEP.match(rest, position)
        if match is None:
            raise ValueError(f"{text!r} is no path such as phases[0].current, or $ for the whole message")
        steps.append(match[1] if match[1] is not None else int(match[2]))
        position = match.end()
    if len(steps) > MOST_STEPS or (not steps and text != "$"):
        raise ValueError(f"{text!r} must have 1 to {MOST_STEPS} steps, or be $ for the whole message")
    return tuple(steps)


def look_up(document: object, path: tuple[str | int, ...]) -> object:
    """What stands there; None when there is nothing."""
    found = document
    for step in path:
        if isinstance(step, str) and isinstance(found, dict):
            found = found.get(step)
        elif isinstance(step, int) and isinstance(found, list) and step < len(found):
            found = found[step]
        else:
            return None
    return found
