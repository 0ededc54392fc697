"""YAML into nodes that know where they stand. Nothing of what is written there is executed."""

import yaml

from csms.sitefile.places import TOP, Fault, Place

LONGEST_TEXT = 1 << 20
"""Characters; a site of a thousand stations has some 200,000."""


def compose(text: str) -> yaml.Node | Fault:
    """The document's root node, or why there is none."""
    if len(text) > LONGEST_TEXT:
        return Fault(TOP, "", f"has {len(text)} characters; at most {LONGEST_TEXT} are read")
    try:
        root = yaml.compose(text, Loader=yaml.SafeLoader)
    except yaml.MarkedYAMLError as error:
        mark = error.problem_mark or error.context_mark
        said = " ".join(part for part in (error.context, error.problem) if part)
        return Fault(TOP if mark is None else _place(mark), "", f"is not YAML: {said}")
    except yaml.YAMLError as error:
        return Fault(TOP, "", f"is not YAML: {' '.join(str(error).split())}")
    except RecursionError:
        return Fault(TOP, "", "is nested too deeply")
    if root is None:
        return Fault(TOP, "", "is empty; it must have site, circuits and stations")
    return root


def place_of(node: yaml.Node) -> Place:
    """Where `node` begins."""
    return _place(node.start_mark)


def _place(mark: yaml.Mark) -> Place:
    return Place(mark.line + 1, mark.column + 1)
