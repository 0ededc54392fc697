"""The cars to share among, laid out for arithmetic: one list per property, in the order of service."""

from collections.abc import Sequence
from dataclasses import dataclass

from csms.power.sharing.currents import Path


@dataclass(frozen=True, slots=True)
class Cars:
    """Rows loaded, A per own conductor (`minimums`, `maximums`, `steps`), `weights`, and `ranks`: the lower
    takes what it can first; None: all alike."""

    paths: Sequence[Path]
    minimums: Sequence[float]
    maximums: Sequence[float]
    weights: Sequence[float]
    steps: Sequence[float]
    ranks: Sequence[int] | None = None

    def __len__(self) -> int:
        return len(self.paths)

    def of(self, which: Sequence[int]) -> "Cars":
        """Only these."""
        return Cars(
            [self.paths[i] for i in which],
            [self.minimums[i] for i in which],
            [self.maximums[i] for i in which],
            [self.weights[i] for i in which],
            [self.steps[i] for i in which],
            None if self.ranks is None else [self.ranks[i] for i in which],
        )
