"""The cautions in short form, said after every result; README says the same at length."""

import textwrap

from bowfem.section import PVC_DANGERS

ESTIMATE = (
    "All figures are estimates: they rest on properties of the plastic that differ from pipe to "
    "pipe, and do not say that a bow is safe. No warranty of any kind."
)

LAW = "Local law first. Learn heating, making and shooting from a qualified person."
BURNS = "Hot plastic and hot jigs burn skin: wear gloves."
EYES = "Eye protection at every shot, nobody near: a limb that breaks throws sharp fragments."
NO_DRY_FIRE = "No dry fire, no overdraw. Not left strung when not in use."
FINISHED = "Whitening, cracks or folds at fades, flat edges or nocks: the bow is finished."
NO_PRESSURE = "Pipe that has been heated must never hold pressure again."

#: Figures and their sources are those of README's Cautions.
CAUTIONS = (LAW, *PVC_DANGERS, BURNS, EYES, NO_DRY_FIRE, FINISHED, NO_PRESSURE)


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
