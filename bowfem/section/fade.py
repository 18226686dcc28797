"""Where a round handle fades into a flat limb: how far the stress rises above a section's own."""

from __future__ import annotations

from typing import NamedTuple

from bowfem.errors import InputError
from bowfem.section._checks import positive
from bowfem.section.outline import onset_thickness
from bowfem.section.pipe import Pipe

#: Fitted to solid models (D): rise of the stress per kink, its power, share left by rounded ends.
RISE, POWER, ROUNDED = 3.19, 1.04, 0.645
#: Power of thickness over that where flats begin: broad flats give way, the pressed one more (D).
BACK, BELLY = 0.2, 0.59
#: Largest departure of the fit from the solid models, as a share of the factor.
SPREAD = 0.1


class FadeFactor(NamedTuple):
    """Hold the factors on stress and strain of back and belly, and the fit's largest error."""

    back: float
    belly: float
    spread: float


def fade_factor(
    pipe: Pipe,
    thickness: float,
    length: float,
    *,
    rounded: bool = False,
    bump: str = "middle",
) -> FadeFactor:
    """Return how much more the faces are strained where a fade runs into the flat.

    Parameters
    ----------
    pipe : Pipe
        The pipe.
    thickness : float
        Pressed thickness at the end of the fade, m.
    length : float
        Length of the fade, m.
    rounded : bool
        Whether its ends run along their neighbours; else it is a wedge.
    bump : {"middle", "back", "belly"}
        Where the round handle stands out; the limb is flush with it on the other side.

    Raises
    ------
    InputError
        A number is not above zero, the pipe is not pressed flat, or the bump has another name.

    Notes
    -----
    ``1 + a (step / length)^p (h / h_0)^q`` with the step of that face: half of what the thickness
    changes by, all of it on the side of a bump, nothing on the other; `h_0` is the thickness at
    which flats begin. The face, stretched over the kink, wants to straighten and bends its wall
    there. `a`, `p`, `q` of each face and the share that rounded ends leave are fitted to
    thirteen elastic solid models (D, ``benchmarks/solid``); the form was chosen among three with
    seven more in view, which it meets within 9.4 per cent. Fades were 25 to 150 mm long.

    Examples
    --------
    >>> short, long = (
    ...     fade_factor(Pipe.from_size("3/4 in Sch 40"), 12e-3, length) for length in (0.03, 0.12)
    ... )
    >>> short.back > long.back > 1.0
    True
    """
    positive("length", length)
    if not 2.0 * pipe.wall <= thickness <= pipe.outer_diameter:
        allowed = f"between {2.0 * pipe.wall:.6g} and {pipe.outer_diameter:.6g} m"
        raise InputError("thickness", thickness, allowed)
    shares = {"middle": (0.5, 0.5), "back": (1.0, 0.0), "belly": (0.0, 1.0)}
    if bump not in shares:
        raise InputError("bump", ascii(bump), "'middle', 'back' or 'belly'")
    if bump != "middle" and thickness > onset_thickness(pipe):
        allowed = f"'middle' where nothing is flat, above {onset_thickness(pipe):.6g} m"
        raise InputError("bump", ascii(bump), allowed)
    step = (pipe.outer_diameter - thickness) / length
    flat = min(thickness / onset_thickness(pipe), 1.0)
    rise = RISE * (ROUNDED if rounded else 1.0)
    back, belly = (
        1.0 + rise * (share * step) ** POWER * flat**give
        for share, give in zip(shares[bump], (BACK, BELLY), strict=True)
    )
    return FadeFactor(back, belly, SPREAD)
