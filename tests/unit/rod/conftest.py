"""What the rod's tests share: a curled limb."""

from collections.abc import Callable

import numpy as np
import pytest

from bowfem.rod import Rod

CURL, LENGTH = 0.4, 0.6  # where the curl begins, length of the limb, m


@pytest.fixture(scope="session")
def curled() -> Callable[..., Rod]:
    """Build a limb with a curl of 92 degrees away from the string: `n` elements in the curl."""

    def limb(n: int = 4, even: bool = False, **more) -> Rod:
        nodes = np.concatenate(
            [np.linspace(0.0, CURL, 2 * n + 1), np.linspace(CURL, LENGTH, n + 1)[1:]]
        )
        return Rod.from_curvature(
            nodes,
            EI=20.0 if even else lambda s: 40.0 - 50.0 * s,
            curvature0=lambda s: np.where(s > CURL, -8.0, -0.2),
            **more,
        )

    return limb
