"""Equilibrium states of a bow, of one limb or of two."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.rod import Path, joined, one_state

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class States:
    """Hold equilibrium states of a bow; the first axis counts them.

    Attributes
    ----------
    nock : ndarray, shape (n, 2)
        Nock point: toward the archer, and up along the bow, m.
    limbs : tuple of Path
        Upper and lower limb, each in its own frame (along the limb, toward the archer); one limb
        alone where both are alike.
    """

    nock: Array
    limbs: tuple[Path, ...]

    @classmethod
    def of_one(cls, path: Path) -> States:
        """Take the path of one limb for a symmetric bow."""
        return cls(path.nock[:, ::-1], (path,))

    def __len__(self) -> int:
        """Return the number of states."""
        return len(self.nock)

    def at(self, state: int) -> States:
        """Return one state alone."""
        return States(self.nock[state][None], tuple(one_state(path, state) for path in self.limbs))

    def last(self) -> States:
        """Return the last state alone."""
        return self.at(-1)


def join(parts: Sequence[States]) -> States:
    """Put states one after another; there is at least one."""
    limbs = [joined(paths) for paths in zip(*(part.limbs for part in parts), strict=True)]
    return States(np.concatenate([part.nock for part in parts]), tuple(limbs))
