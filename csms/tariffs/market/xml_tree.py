"""XML of strangers as a tree, with the line of every element; a document type is refused.

Entities can only be declared in a document type, so what expands without end or reads files cannot
come in. Namespaces are dropped: each version of a standard has another one.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field
from xml.parsers import expat

from csms.errors import InvalidInput

DEEPEST = 30


@dataclass(slots=True)
class Node:
    """An element: local name, its own text, children in order, the line on which it begins."""

    name: str
    line: int
    text: str = ""
    children: list["Node"] = field(default_factory=list)

    @property
    def place(self) -> str:
        return f"line {self.line}, {self.name}"

    def all(self, name: str) -> Iterator["Node"]:
        return (child for child in self.children if child.name == name)

    def find(self, name: str) -> "Node | None":
        return next(self.all(name), None)

    def need(self, name: str) -> "Node":
        """The child that must be there."""
        found = self.find(name)
        if found is None:
            raise InvalidInput(self.place, f"{name} is missing")
        return found

    def told(self, name: str) -> str | None:
        """The text of a child; None when there is none."""
        found = self.find(name)
        return None if found is None else found.text.strip()


class _Refused(Exception):
    """Raised inside expat, which lets it through."""


def read_xml(raw: bytes) -> Node:
    """The root element. InvalidInput says what is wrong and on which line."""
    root = Node("document", 0)
    stack = [root]
    parser = expat.ParserCreate(namespace_separator=" ")
    parser.buffer_text = True

    def start(name: str, _attributes: dict[str, str]) -> None:
        node = Node(name.rpartition(" ")[2], parser.CurrentLineNumber)
        stack[-1].children.append(node)
        stack.append(node)
        if len(stack) > DEEPEST:
            raise _Refused(f"line {node.line}: elements are nested too deeply to be a price document")

    def end(_name: str) -> None:
        stack.pop()

    def text(data: str) -> None:
        stack[-1].text += data

    def doctype(*_: object) -> None:
        raise _Refused("has a document type (DTD), which is not read; send it without")

    parser.StartElementHandler = start
    parser.EndElementHandler = end
    parser.CharacterDataHandler = text
    parser.StartDoctypeDeclHandler = doctype
    try:
        parser.Parse(raw, True)
    except expat.ExpatError as error:
        raise InvalidInput("document", f"not XML: {error}") from None
    except _Refused as refusal:
        raise InvalidInput("document", str(refusal)) from None
    except (LookupError, ValueError) as error:
        raise InvalidInput("document", f"its encoding is not known: {error}") from None
    return root.children[0]
