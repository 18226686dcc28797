"""The string's run along the limbs: where it lies and lifts off, its angles, its nearest place."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Side
from bowfem.findings.line import DrawLength, Figure, Line, Place, Warned, side_figure

if TYPE_CHECKING:
    from bowfem.bow import LimbStates, Walk

Array = NDArray[np.float64]

#: Contact shorter than this is the loop in its groove, m: below the width of a pencil mark.
MARK = 1e-4
#: Smallest contact force reported, N/m; a string just lying there leaves less.
LEAST = 1.0
#: A gap counts as narrow below this share of one further out.
NEARER = 0.5


@dataclass(frozen=True)
class ContactPiece:
    """One piece of limb on which the string lies, from its first state to its lift-off.

    Parameters
    ----------
    outer, inner : float
        Stations of its ends when it is first seen, m along the pipe from the bow's centre.
    first : float
        Draw at which it is first seen, nock point to pivot, m; that at brace, as a rule.
    lift_off : float or None
        Draw at which its length has shrunk to nothing, m; None if never in this walk.
    pressure, pressure_s, pressure_draw : float
        Largest contact force per length of limb, N/m, with its station and draw, m.
    side : Side or None
        Which limb; None where both are alike.
    """

    outer: float
    inner: float
    first: float
    lift_off: float | None
    pressure: float
    pressure_s: float
    pressure_draw: float
    side: Side | None = None


@dataclass(frozen=True)
class Narrow:
    """A place where the string comes near a limb: clearance, station and draw to pivot, m."""

    clearance: float
    s: float
    draw: float
    side: Side | None = None


@dataclass(frozen=True, eq=False)
class StringRun:
    """Hold the string's run on a walk of n states.

    Attributes
    ----------
    contacts : tuple of ContactPiece
        Limb by limb, in the order they are first seen, from the groove inward.
    nock_angle : ndarray, shape (n,)
        Angle between the string's two parts at the nock point, rad; pi at brace.
    groove_angle : tuple of ndarray, shape (n,)
        For each limb that differs, the angle between string and limb at the groove, rad, inward;
        zero where the string lies on the limb there.
    outward : float or None
        First draw walked at which such an angle is above a right angle, m: the string then pulls
        its loop toward the end of the limb; None if at none.
    narrow : Narrow or None
        Where the string comes to less than half the clearance it has further out, at worst; None
        when it does so at no draw.
    """

    contacts: tuple[ContactPiece, ...]
    nock_angle: Array
    groove_angle: tuple[Array, ...]
    outward: float | None
    narrow: Narrow | None

    @classmethod
    def from_walk(cls, walk: Walk) -> StringRun:
        """Read the string's run off a walk."""
        limbs = walk.distinct_limbs
        angles = tuple(_groove_angle(limb) for _, limb in limbs)
        wide = np.flatnonzero(np.max(angles, axis=0) > 0.5 * np.pi)
        narrow = [found for side, limb in limbs if (found := _narrow(walk, limb, side))]
        return cls(
            contacts=tuple(piece for side, limb in limbs for piece in _contacts(walk, limb, side)),
            nock_angle=_nock_angle(walk),
            groove_angle=angles,
            outward=float(walk.draw[wide[0]]) if wide.size else None,
            narrow=min(narrow, key=lambda one: one.clearance, default=None),
        )

    @property
    def lift_off(self) -> float | None:
        """Draw to the pivot at which the string has left the limbs completely, m; None if never."""
        ends = [piece.lift_off for piece in self.contacts]
        return max((end for end in ends if end), default=None) if all(ends) else None


def pieces_at(limb: LimbStates, state: int) -> list[tuple[float, float]]:
    """Return outer and inner station, m, of each piece of contact longer than a mark."""
    found = limb.contact[state]
    found = found[np.isfinite(found[:, 0]) & (found[:, 0] - found[:, 1] > MARK)]
    return [(float(outer), float(inner)) for outer, inner in found]


def _contacts(walk: Walk, limb: LimbStates, side: Side | None) -> list[ContactPiece]:
    """Follow each piece of contact from state to state by overlap.

    Notes
    -----
    Between the last state that has it and the next, a piece shrinks on as it did before: its length
    is taken to zero in a straight line, within that step of the draw.
    """
    tracks: list[list[tuple[int, float, float]]] = []
    for i in range(walk.draw.size):
        open_ = [track for track in tracks if track[-1][0] == i - 1]
        for outer, inner in pieces_at(limb, i):
            same = [t for t in open_ if t[-1][1] >= inner and t[-1][2] <= outer]
            if same:
                same[0].append((i, outer, inner))
                open_.remove(same[0])
            else:
                tracks.append([(i, outer, inner)])
    return [_piece(walk.draw, limb, track, side) for track in tracks]


def _piece(
    draw: Array, limb: LimbStates, track: list[tuple[int, float, float]], side: Side | None
) -> ContactPiece:
    first, last = track[0][0], track[-1][0]
    lift_off = None
    if last + 1 < draw.size:
        lift_off = float(draw[last + 1])
        if len(track) > 1:
            (before, o0, i0), (_, o1, i1) = track[-2:]
            gone = (o0 - i0) - (o1 - i1)
            if gone > 0.0:
                shrinks = (draw[last] - draw[before]) * (o1 - i1) / gone
                lift_off = min(lift_off, float(draw[last] + shrinks))
    top, at, when = 0.0, track[0][1], float(draw[first])
    for i, outer, inner in track:
        on = np.where((limb.s <= outer) & (limb.s >= inner), limb.pressure[i], 0.0)
        j = int(np.argmax(on))
        if on[j] > top:
            top, at, when = float(on[j]), float(limb.s[j]), float(draw[i])
    return ContactPiece(track[0][1], track[0][2], float(draw[first]), lift_off, top, at, when, side)


def _last_way(limb: LimbStates) -> Array:
    """Return the way from the nock point back to where the string leaves a limb, m, (n, 2)."""
    line = np.stack([limb.string_x, limb.string_y], axis=-1)
    away = np.linalg.norm(line - line[:, -1:], axis=-1) > 1e-6
    last = line.shape[1] - 1 - np.argmax(away[:, ::-1], axis=1)
    return line[np.arange(len(line)), last] - line[:, -1]


def _nock_angle(walk: Walk) -> Array:
    upper, lower = (_last_way(limb).T for limb in walk.limbs)
    if walk.is_symmetric:
        lower = lower * np.array([[1.0], [-1.0]])
    between = np.arctan2(upper[0] * lower[1] - upper[1] * lower[0], np.sum(upper * lower, axis=0))
    return np.mod(between, 2.0 * np.pi)  # seen from the archer's side, from the upper to the lower


def _groove_angle(limb: LimbStates) -> Array:
    """Angle between the first straight piece of the string and the square to the end section."""
    found = np.zeros(len(limb.x))
    up = np.sign(limb.unbraced_y[-1])
    for i, angle in enumerate(limb.angle[:, -1]):
        pieces = pieces_at(limb, i)
        if pieces and pieces[0][0] > limb.s[-1] - MARK:
            continue
        line = np.column_stack([up * limb.string_y[i], limb.string_x[i]])
        along, off = line[np.argmax(np.linalg.norm(line - line[0], axis=1) > 1e-6)] - line[0]
        c, s = np.cos(angle), np.sin(angle)
        found[i] = np.arctan2(abs(c * off - s * along), -c * along - s * off)
    return found


def _narrow(walk: Walk, limb: LimbStates, side: Side | None) -> Narrow | None:
    """Find where the string is free, but much nearer to the limb than somewhere further out."""
    gap = limb.clearance
    further = np.maximum.accumulate(gap[:, ::-1], axis=1)[:, ::-1]
    inside = gap[:, 1:-1]
    lowest = (inside <= gap[:, :-2]) & (inside <= gap[:, 2:])  # the brace height minds the middle
    told = lowest & (inside > MARK) & (inside < NEARER * further[:, 1:-1])
    nearer = np.where(told, inside, np.inf)
    state, station = np.unravel_index(int(np.argmin(nearer)), nearer.shape)
    if not np.isfinite(nearer[state, station]):
        return None
    found = float(inside[state, station])
    return Narrow(found, float(limb.s[station + 1]), float(walk.draw[state]), side)


def run_lines(walk: Walk, run: StringRun) -> list[Line]:
    """Say where the string lies on the limbs, how far it stands off, and at what angles."""
    found = [_contact_line(walk, piece) for piece in run.contacts] or [
        Line(
            "string run",
            "touches the limb at the groove only, at any draw",
            (),
            120,
            "string.contact[]",
        )
    ]
    middle = min(
        float(np.interp(0.5 * limb.s[-1], limb.s, limb.clearance[0])) for limb in walk.limbs
    )
    words = "{clearance_middle:3} from string to belly in the middle of the limb at brace; "
    gap = Figure("clearance_middle", middle, "length")
    figures: tuple[Figure, ...] = (gap,)
    if run.narrow is None:
        words += "hardly nearer anywhere before the groove or the contact, at any draw"
        found.append(Line("clearance", words, figures, 130))
    else:
        words += "nearest, apart from the groove, {nearest:3} {nearest_s}, at {nearest_draw}"
        figures += (
            Figure("nearest", run.narrow.clearance, "length"),
            Place("nearest_s", run.narrow.s, side=run.narrow.side),
            DrawLength.of(walk, run.narrow.draw, "nearest_draw"),
        )
        found.append(Line("clearance", words, figures, 130, group=""))
        found.append(Line("", "", (gap,), 131))
    return [*found, _angle_line(walk, run), _angles(run)]


def _contact_line(walk: Walk, piece: ContactPiece) -> Line:
    at_brace = piece.first <= walk.draw[0]
    words = ("at brace" if at_brace else "from {first} on") + (
        " lies on the limb {inner_s:bare} to {outer_s}, "
    )
    words += "still there at the last draw" if piece.lift_off is None else "off it at {lift_off}"
    if piece.pressure > LEAST:
        words += "; presses at most {pressure:3}, at {pressure_s:bare}"
    figures = (
        side_figure(piece.side),
        Place("outer_s", piece.outer, side=piece.side),
        Place("inner_s", piece.inner, side=piece.side),
        DrawLength.of(walk, piece.first, "first"),
        DrawLength.of(walk, piece.lift_off, "lift_off"),
        Figure("pressure", piece.pressure, "spring_rate"),
        Place("pressure_s", piece.pressure_s, side=piece.side),
        DrawLength.of(walk, piece.pressure_draw, "pressure_draw"),
    )
    return Line("string run", words, figures, 120, "string.contact[]")


def _angle_line(walk: Walk, run: StringRun) -> Line:
    at_brace, drawn = (max(angle[i] for angle in run.groove_angle) for i in (0, -1))
    words = (
        "{nock_angle:.0} between its parts at the nock point at the last draw; against the limb at "
        "the groove {at_brace:.0} at brace, {drawn:.0} at the last draw"
    )
    figures = (
        Figure("nock_angle", float(run.nock_angle[-1]), "angle"),
        Figure("at_brace", float(at_brace), "angle"),
        Figure("drawn", float(drawn), "angle"),
        DrawLength.of(walk, run.outward, "outward"),
    )
    if run.outward is not None:
        words += (
            "; above a right angle from {outward} on: the nocks must hold the loops from slipping "
            "toward the ends"
        )
    return Line("string angles", words, figures, 140, group="")


def _angles(run: StringRun) -> Line:
    figures = [Figure("nock_angle", run.nock_angle, "angle")]
    for name, angle in zip(("groove_angle", "groove_angle_lower"), run.groove_angle, strict=False):
        figures.append(Figure(name, angle, "angle"))
    return Line("", "", tuple(figures), 141, "string")


def run_warning(walk: Walk, run: StringRun) -> list[Warned]:
    """Warn of a string that lies on the inner half of a limb at brace."""
    at_brace = [piece for piece in run.contacts if piece.first <= walk.draw[0]]
    inside = [piece for piece in at_brace if piece.inner < 0.5 * walk.limb(piece.side).s[-1]]
    if not inside:
        return []
    least = min(inside, key=lambda piece: piece.inner)
    words = "At brace the string lies on the inner half of the limb, {s}."
    return [Warned(words, (Place("s", least.inner, side=least.side),))]
