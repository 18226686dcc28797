"""The cautions in short form, said after every result; README says the same at length."""

import textwrap

from bowfem.section import PVC_DANGERS

ESTIMATE = (
    "All figures are estimates: they rest on properties of the plastic that differ from pipe to "
    "pipe, and do not say that a bow is safe. No warranty of any kind."
)

#: Figures and their sources are those of README's Cautions.
CAUTIONS: tuple[str, ...] = (
    "Local law first. Learn heating, making and shooting from a qualified person.",
    *PVC_DANGERS,
    "Hot plastic and hot jigs burn skin: wear gloves.",
    "Eye protection at every shot, nobody near: a limb that breaks throws sharp fragments.",
    "No dry fire, no overdraw. Not left strung when not in use.",
    "Whitening, cracks or folds at fades, flat edges or nocks: the bow is finished.",
    "Pipe that has been heated must never hold pressure again.",
)


def cautions_text(width: int = 92) -> str:
    """Return the statement and all cautions, as lines to print.

    Parameters
    ----------
    width : int
        Longest line.

    Examples
    --------
    >>> print(cautions_text().splitlines()[-1])
      - Pipe that has been heated must never hold pressure again.
    """
    lines = textwrap.wrap(ESTIMATE, width)
    for caution in CAUTIONS:
        lines += textwrap.wrap(caution, width, initial_indent="  - ", subsequent_indent="    ")
    return "\n".join(lines)
