"""Messages and results with parts replaced or taken out, as a station in trouble might send them."""

import copy
from typing import Any

from hypothesis import strategies as st

from csms.stations.commands import Command
from tests.vectors.reader import build

# whole numbers as the JSON reader gives them
ODD = st.one_of(
    st.none(),
    st.booleans(),
    st.integers(-(2**63), 2**64 - 1),
    st.floats(),
    st.text(max_size=6),
    st.builds(list),
    st.builds(dict),
    st.builds(lambda: [{}]),
    st.builds(lambda: {"id": {}}),
    st.lists(st.integers(0, 9), max_size=2),
)


def places(node: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """The paths of all parts of a payload."""
    inner = node.items() if isinstance(node, dict) else enumerate(node) if isinstance(node, list) else ()
    return [place for key, one in inner for place in ((*path, key), *places(one, (*path, key)))]


def damaged(draw: st.DrawFn, payload: Any) -> Any:
    """A copy of a payload with some parts replaced or taken out."""
    payload = copy.deepcopy(payload)
    for _ in range(draw(st.integers(1, 4))):
        found = places(payload)
        if not found:
            break
        *way, last = draw(st.sampled_from(found))
        node = payload
        for key in way:
            node = node[key]
        if draw(st.booleans()):
            node[last] = draw(ODD)
        elif isinstance(node, dict):
            del node[last]
    return payload


@st.composite
def messages(draw: st.DrawFn, said: list[dict[str, Any]]) -> tuple[str, Any]:
    """An action and a damaged payload, of one of the cases of a station."""
    case = draw(st.sampled_from(said))
    return case["action"], damaged(draw, case["payload"])


@st.composite
def results(draw: st.DrawFn, asked: list[dict[str, Any]]) -> tuple[Command, Any]:
    """A command and a damaged answer to it, of one of our cases."""
    case = draw(st.sampled_from([case for case in asked if case["results"]]))
    return build(case["command"]), damaged(draw, draw(st.sampled_from(case["results"]))["payload"])
