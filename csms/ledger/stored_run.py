"""The inputs of a run as they are kept: one canonical text per line, the month's own first, compressed."""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass

from csms.ledger import canonical
from csms.ledger.inputs import RunInputs


@dataclass(frozen=True, slots=True)
class InputText:
    """Inputs with their text and its hash, which the statements name."""

    inputs: RunInputs
    text: str
    hash: str


def written(inputs: RunInputs) -> InputText:
    """The inputs and their text."""
    text = canonical.write(inputs)
    return InputText(inputs, text, canonical.digest(text))


def pack(texts: Sequence[InputText]) -> tuple[bytes, str]:
    """What is stored, and the hash of the whole."""
    whole = "\n".join(each.text for each in texts)
    return zlib.compress(whole.encode(), 1), canonical.digest(whole)


def unpack(stored: bytes) -> tuple[InputText, ...]:
    """The inputs that were packed."""
    lines = zlib.decompress(stored).decode().split("\n")
    return tuple(InputText(canonical.read(RunInputs, line), line, canonical.digest(line)) for line in lines)
