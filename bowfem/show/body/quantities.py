"""What is shown on the body of a bow: the package's quantities, and those of one's own."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import InputError
from bowfem.units import convert

if TYPE_CHECKING:
    from collections.abc import Callable

    from bowfem.bow import LimbStates

Array = NDArray[np.float64]


class Quantity(NamedTuple):
    """One field of the swept bow.

    Parameters
    ----------
    label : str
        What it is, as the scale says it.
    kind : str
        Its dimension, of those that `bowfem.units` knows: "stress", "length", "share" ...
    signed : bool
        Whether its scale has two signs.
    of : callable, optional
        Takes the `LimbStates` of a limb, gives its values, (n_states, n_stations), SI units: for a
        quantity of one's own, the same all round the wall; see `own_quantity`.
    """

    label: str
    kind: str
    signed: bool
    of: Callable[[LimbStates], Array] | None = None


#: Fields on the points of the body, by the names that commands take.
QUANTITIES: dict[str, Quantity] = {
    "yield": Quantity("strain, share of yield strain", "share", False),
    "stress": Quantity("stress along the limb, tension positive", "stress", True),
    "fold": Quantity("bending, share of that at the fold", "share", False),
    "bending": Quantity("change of curvature, positive toward the archer", "curvature", True),
    "crosswise": Quantity("largest crosswise strain of the wall", "share", False),
    "pressure": Quantity("pressure of the string on the belly", "spring_rate", False),
}


def check_quantity(name: str, key: str = "quantity") -> str:
    """Return the name of a quantity.

    Raises
    ------
    InputError
        There is no such quantity.
    """
    if name not in QUANTITIES:
        raise InputError(key, name, "one of " + ", ".join(QUANTITIES))
    return name


def own_quantity(name: str, quantity: Quantity) -> None:
    """Add a quantity of one's own: scene, film, web page and export then show it like the others.

    Parameters
    ----------
    name : str
        By which it is asked for; one of before is replaced.
    quantity : Quantity
        With `Quantity.of`.

    Raises
    ------
    InputError
        The name is one of the package's, or the quantity has no values or no known dimension.

    Examples
    --------
    >>> from bowfem.show import Quantity, own_quantity
    >>> of = lambda limb: 0.5 * limb.moment * limb.curvature_change
    >>> own_quantity("stored", Quantity("energy stored, J over m", "force", False, of))
    """
    if name in QUANTITIES and QUANTITIES[name].of is None:
        raise InputError("name", name, "none of the package's: " + ", ".join(QUANTITIES))
    if quantity.of is None:
        raise InputError("quantity.of", None, "a function of a limb's states")
    try:
        convert(0.0, quantity.kind, "metric")
    except (KeyError, InputError):
        raise InputError("quantity.kind", quantity.kind, "a dimension of bowfem.units") from None
    QUANTITIES[name] = quantity
