"""Cross-section of a pressed pipe: the mid-wall as a closed curve, with quadrature along it.

Axes: x across the limb (its width), y through its thickness, the direction it bends in, both from
the middle; +y is the belly, facing the archer.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import InputError
from bowfem.section._numerics import gauss, root
from bowfem.section.pipe import Pipe

Array = NDArray[np.float64]

ARC_POINTS = 16
ELLIPSE_POINTS = 64
FLAT_POINTS = 8


@dataclass(frozen=True, eq=False)
class Outline:
    """Hold a closed mid-wall of constant wall thickness, counter-clockwise.

    Integrals round the wall are sums over the points with their weights. All arrays have shape
    (n_points,) and live on the quadrature points of the mid-wall.

    Attributes
    ----------
    x, y : ndarray
        Position across the width and through the thickness, m.
    normal_x, normal_y : ndarray
        Outward unit normal.
    curvature : ndarray
        Curvature of the mid-wall, 1/m, positive where it is convex.
    weights : ndarray
        Arc length that belongs to each point, m; they sum to the perimeter.
    arc : ndarray
        Arc length up to the point, m, increasing.
    wall : float
        Wall thickness, m.
    width, thickness : float
        Outer extents along x and y, m.
    name : str
        How the shape was made.
    pieces : tuple of int
        Points of each smooth piece of the wall in order, Gauss points of the piece's own parameter.
    """

    x: Array
    y: Array
    normal_x: Array
    normal_y: Array
    curvature: Array
    weights: Array
    arc: Array
    wall: float
    width: float
    thickness: float
    name: str = ""
    pieces: tuple[int, ...] = ()

    @classmethod
    def from_quarter(
        cls, pipe: Pipe, turn: Callable[[Array], tuple[Array, Array]], name: str = "own"
    ) -> "Outline":
        """Make an outline of one's own from how the wall turns along a quarter of it.

        Parameters
        ----------
        pipe : Pipe
            The pipe; its mid-wall perimeter is kept.
        turn : callable
            Of the share of the quarter's length from the side up, 0 to 1: the share of the right
            angle turned so far, from 0 to 1, and its slope, which is nowhere negative. Smooth.
        name : str
            How the shape was made.

        Raises
        ------
        InputError
            The turn does not go from 0 to 1, or falls.

        Notes
        -----
        The quarter is mirrored twice. For a family, a callable of pipe and thickness has to find
        the turn that gives the thickness: see `SectionFamily.from_pipe` and examples.

        Examples
        --------
        A wall that turns evenly is the circle it was:

        >>> pipe = Pipe(26.67e-3, 2.87e-3)
        >>> even = Outline.from_quarter(pipe, lambda u: (u, np.ones_like(u)))
        >>> round(even.second_moment_weak / pipe.second_moment, 12)
        1.0
        """
        u, weight, running = gauss(ELLIPSE_POINTS)
        share, slope = (np.asarray(each, dtype=float) for each in turn(u))
        ends = np.asarray(turn(np.array([0.0, 1.0]))[0], dtype=float)
        if share.shape != u.shape or slope.shape != u.shape or not np.all(slope >= 0.0):
            raise InputError("turn", slope.shape, "a share and its slope, nowhere negative")
        if not np.allclose(ends, [0.0, 1.0], rtol=0.0, atol=1e-12):
            raise InputError("turn", ends, "from 0 to 1")
        quarter = 0.25 * pipe.mid_perimeter
        cos, sin = np.cos(0.5 * math.pi * share), np.sin(0.5 * math.pi * share)
        reach, half_height = quarter * float(weight @ sin), quarter * float(weight @ cos)
        side = _Quarter(
            reach - quarter * (running @ sin),
            quarter * (running @ cos),
            cos,
            sin,
            0.5 * math.pi * slope / quarter,
            quarter * weight,
            quarter * u,
        )
        return _closed(pipe, side, reach, 0.0, half_height, name)

    @property
    def angle(self) -> Array:
        """Angle of the tangent from the x axis, rad, increasing along the wall, (n_points,)."""
        return np.unwrap(np.arctan2(self.normal_x, -self.normal_y))

    @property
    def fibre(self) -> float:
        """Distance of the outer fibre, belly or back, from the middle, m."""
        return 0.5 * self.thickness

    @property
    def perimeter(self) -> float:
        """Length of the mid-wall, m."""
        return float(np.sum(self.weights))

    @property
    def area(self) -> float:
        """Area of the wall, m2.

        Notes
        -----
        Through the wall the area element is ``1 + n curvature``; its second part integrates to
        zero over the thickness, so the area is exactly perimeter times wall.
        """
        return self.perimeter * self.wall

    @property
    def enclosed_area(self) -> float:
        """Area inside the mid-wall, m2."""
        return 0.5 * float(self.weights @ (self.x * self.normal_x + self.y * self.normal_y))

    @property
    def second_moment_weak(self) -> float:
        """Second moment of area for bending of the limb, about the width axis, m4."""
        return self._second_moment(self.y, self.normal_y)

    @property
    def second_moment_strong(self) -> float:
        """Second moment of area for bending sideways, about the thickness axis, m4."""
        return self._second_moment(self.x, self.normal_x)

    def _second_moment(self, y: Array, c: Array) -> float:
        """Integrate ``(y + n c)^2 (1 + n curvature)`` through the wall, exactly, and round it."""
        t = self.wall
        each = y**2 * t + t**3 / 12.0 * (c**2 + 2.0 * y * c * self.curvature)
        return float(self.weights @ each)

    @property
    def torsion_constant(self) -> float:
        """Torsion constant, m4.

        Notes
        -----
        Closed thin tube (Bredt) plus open wall, ``4 Am^2 t/p + p t^3/3``, plus the first effect of
        the wall's own curvature, ``Am^2 t^3 mean(curvature^2) / (3 p) - 2 pi Am t^3 / (3 p)``,
        from expanding the stress function through a curved wall (D). Exact for a circular tube;
        2e-4 to 2e-3 off for racetracks, against numerical solutions of the stress function.
        """
        t, p, area = self.wall, self.perimeter, self.enclosed_area
        bending = float(self.weights @ self.curvature**2) / p
        bredt = 4.0 * area**2 * t / p
        curved = bredt * t**2 * bending / 12.0 - 2.0 * math.pi * area * t**3 / (3.0 * p)
        return bredt + p * t**3 / 3.0 + curved

    @property
    def shear_area(self) -> float:
        """Area that carries shear along y, m2; the shear stiffness is ``G`` times it.

        Notes
        -----
        Energy of the thin-wall shear flow: ``(int y^2 ds)^2 t / int q^2 ds`` with ``q`` the
        running integral of ``y ds`` less its mean, which keeps the wall from twisting (D). Half
        the area for a thin circular tube, at any Poisson's ratio; Cowper's ``2 (1 + nu) / (4 + 3
        nu)`` (1966, M), of a mean displacement, is that at 0 and 8 per cent more at 0.4.
        """
        step = np.diff(self.arc)
        slope = self.normal_x  # dy/ds along the counter-clockwise wall
        rise = 0.5 * step * (self.y[1:] + self.y[:-1]) - step**2 / 12.0 * np.diff(slope)
        flow = np.concatenate([[0.0], np.cumsum(rise)])
        flow -= self.weights @ flow / self.perimeter
        return self.wall * float((self.weights @ self.y**2) ** 2 / (self.weights @ flow**2))

    @property
    def creased(self) -> bool:
        """Whether the inner face would have to fold on itself at the tightest bend.

        Notes
        -----
        Near the closed thickness the mid-wall bends tighter than half the wall. A real wall gives
        way by thinning; here it keeps its thickness and its area, and the overlap, a sliver at
        the inner corner, counts negative. Results stay smooth.
        """
        return bool(np.max(self.curvature) * self.wall > 2.0)

    def turned(self) -> "Outline":
        """Turn the section edge-on: the width becomes the thickness, as in stiff tips.

        Examples
        --------
        >>> flat = pressed(Pipe(26.67e-3, 2.87e-3), 12e-3)
        >>> edge = flat.turned()
        >>> edge.thickness == flat.width and edge.second_moment_weak == flat.second_moment_strong
        True
        """
        return Outline(
            -self.y,
            self.x,
            -self.normal_y,
            self.normal_x,
            self.curvature,
            self.weights,
            self.arc,
            self.wall,
            self.thickness,
            self.width,
            f"{self.name} turned".strip(),
            self.pieces,
        )


def circle(pipe: Pipe) -> Outline:
    """Take the pipe as it comes.

    Examples
    --------
    >>> pipe = Pipe(26.67e-3, 2.87e-3)
    >>> round(circle(pipe).second_moment_weak / pipe.second_moment, 12)
    1.0
    """
    return _racetrack(pipe, pipe.outer_diameter, "circle")


def racetrack(pipe: Pipe, thickness: float) -> Outline:
    """Press to flats joined by half circles, the shape drawn in most sketches.

    Parameters
    ----------
    pipe : Pipe
        The pipe; its mid-wall perimeter is kept.
    thickness : float
        Outer thickness across the flats, m.

    Raises
    ------
    InputError
        When the thickness is below twice the wall or above the outer diameter.

    Examples
    --------
    >>> round(1e12 * racetrack(Pipe(26.67e-3, 2.87e-3), 14e-3).second_moment_weak, 1)
    5273.5
    """
    return _racetrack(pipe, pipe.check_thickness(thickness), "racetrack")


def _racetrack(pipe: Pipe, thickness: float, name: str) -> Outline:
    u, weight, _ = gauss(ARC_POINTS)
    radius = 0.5 * (thickness - pipe.wall)
    turn = 0.5 * math.pi * u
    side = _Quarter(
        radius * np.cos(turn),
        radius * np.sin(turn),
        np.cos(turn),
        np.sin(turn),
        np.full(ARC_POINTS, 1.0 / radius),
        0.5 * math.pi * radius * weight,
        radius * turn,
    )
    flat = 0.25 * pipe.mid_perimeter - 0.5 * math.pi * radius
    return _closed(pipe, side, radius, max(flat, 0.0), radius, name)


def ellipse(pipe: Pipe, thickness: float) -> Outline:
    """Press to an ellipse with the perimeter of the pipe, for comparison.

    Parameters
    ----------
    pipe : Pipe
        The pipe; its mid-wall perimeter is kept.
    thickness : float
        Outer thickness, m.

    Raises
    ------
    InputError
        When the thickness is below twice the wall or above the outer diameter.

    Examples
    --------
    >>> round(1e3 * ellipse(Pipe(26.67e-3, 2.87e-3), 14e-3).width, 3)
    36.47
    """
    thickness = pipe.check_thickness(thickness)
    b = 0.5 * (thickness - pipe.wall)
    u, weight, running = gauss(ELLIPSE_POINTS)
    cos, sin = np.cos(0.5 * math.pi * u), np.sin(0.5 * math.pi * u)
    weight = 0.5 * math.pi * weight
    quarter = 0.25 * pipe.mid_perimeter

    def residual(a: float) -> tuple[float, float]:
        speed = np.hypot(a * sin, b * cos)
        return float(weight @ speed) - quarter, float(weight @ (a * sin**2 / speed))

    a = root(residual, math.sqrt(2.0 * (0.5 * pipe.mid_diameter) ** 2 - b**2), quarter)
    speed = np.hypot(a * sin, b * cos)
    side = _Quarter(
        a * cos,
        b * sin,
        b * cos / speed,
        a * sin / speed,
        a * b / speed**3,
        weight * speed,
        0.5 * math.pi * (running @ speed),
    )
    return _closed(pipe, side, a, 0.0, b, "ellipse")


def pressed(pipe: Pipe, thickness: float) -> Outline:
    """Press the hot pipe between flat plates.

    Parameters
    ----------
    pipe : Pipe
        The pipe; its mid-wall perimeter is kept.
    thickness : float
        Outer thickness across the flats, m; the outer diameter gives the circle.

    Raises
    ------
    InputError
        When the thickness is below twice the wall, where the faces touch, or above the outer
        diameter.

    Notes
    -----
    The hot wall is an inextensible elastica (D; constants agree with elliptic integrals). With
    ``x`` from the load line to the side, at distance ``a``, and ``psi`` the wall's slope,
    ``sin psi = (1 - g) x/a + g (x/a)^2``, curvature ``((1 - g) + 2 g x/a) / a``. ``g = 0`` is the
    circle; up to ``g = 1`` the plates touch along two lines; there the curvature under the plate
    vanishes, at a mid-wall height of 0.71777 of the mid diameter, and flats grow between two
    sides of unchanged form, the rectangular elastica. Integrated over ``x = a (1 - v^2)``, in
    which the shape is analytic throughout.

    Examples
    --------
    >>> limb = pressed(Pipe(26.67e-3, 2.87e-3), 12e-3)
    >>> round(1e3 * limb.width, 3), round(1e12 * limb.second_moment_weak, 1)
    (35.515, 3711.7)
    """
    thickness = pipe.check_thickness(thickness)
    half_height = 0.5 * (thickness - pipe.wall)
    quarter = 0.25 * pipe.mid_perimeter
    length, height = _elastica_size(1.0)[:2]
    if half_height <= quarter * height / length:  # flats
        g, a = 1.0, half_height / height
        flat = max(quarter - a * length, 0.0)
    else:

        def residual(g: float) -> tuple[float, float]:
            length, height, dlength, dheight = _elastica_size(g)
            share = height / length
            return share - half_height / quarter, (dheight - share * dlength) / length

        g = root(residual, 0.0, 1.0)
        a, flat = quarter / _elastica_size(g)[0], 0.0
    _, weight, running = gauss(ARC_POINTS)
    x, sine, cosine, speed = _elastica(g)
    side = _Quarter(
        a * x,
        a * (running @ (sine * speed)),
        sine,
        cosine,
        (1.0 - g + 2.0 * g * x) / a,
        a * weight * speed,
        a * (running @ speed),
    )
    return _closed(pipe, side, a, flat, half_height, "pressed")


def onset_thickness(pipe: Pipe) -> float:
    """Return the pressed thickness, m, below which a pipe has flats.

    Notes
    -----
    The mid-wall is then ``pi (2 E - K) / (2 K)`` mid diameters high, 0.71777, with the complete
    elliptic integrals at modulus ``1 / sqrt 2`` (D).

    Examples
    --------
    >>> round(1e3 * onset_thickness(Pipe(26.67e-3, 2.87e-3)), 2)
    19.95
    """
    length, height = _elastica_size(1.0)[:2]
    return pipe.wall + 0.5 * pipe.mid_perimeter * height / length


def _elastica(g: float) -> tuple[Array, Array, Array, Array]:
    """Return x/a, sine and cosine of the wall's slope, and ds/dv / a, at the points of v."""
    v = gauss(ARC_POINTS)[0]
    x = 1.0 - v**2
    sine = x * (1.0 - g + g * x)
    root = np.sqrt((1.0 + g * x) * (1.0 + sine))
    return x, sine, v * root, 2.0 / root


def _elastica_size(g: float) -> tuple[float, float, float, float]:
    """Return length and height of a quarter over a, and their derivatives by g."""
    weight = gauss(ARC_POINTS)[1]
    x, sine, _, speed = _elastica(g)
    dsine = x * (x - 1.0)
    dspeed = -0.5 * speed * (x / (1.0 + g * x) + dsine / (1.0 + sine))
    return (
        float(weight @ speed),
        float(weight @ (sine * speed)),
        float(weight @ dspeed),
        float(weight @ (dsine * speed + sine * dspeed)),
    )


@dataclass(frozen=True, eq=False)
class _Quarter:
    """Hold the curved wall from the side (y = 0) up to where it lies level (x = 0)."""

    x: Array
    y: Array
    normal_x: Array
    normal_y: Array
    curvature: Array
    weights: Array
    arc: Array


def _closed(
    pipe: Pipe, side: _Quarter, reach: float, flat: float, half_height: float, name: str
) -> Outline:
    """Add half a flat to the quarter, mirror it twice, and close the wall.

    Mirrored points are exact copies, so that equal heights compare equal.
    """
    u, weight, _ = gauss(FLAT_POINTS)
    level = np.ones(FLAT_POINTS)
    curved = 0.25 * pipe.mid_perimeter - flat
    x = np.concatenate([flat + side.x, flat * (1.0 - u)])
    y = np.concatenate([side.y, half_height * level])
    nx = np.concatenate([side.normal_x, 0.0 * level])
    ny = np.concatenate([side.normal_y, level])
    bend = np.concatenate([side.curvature, 0.0 * level])
    weights = np.concatenate([side.weights, flat * weight])
    arc = np.concatenate([side.arc, curved + flat * u])

    def half(right: Array, left: Array) -> Array:
        return np.concatenate([right, left[::-1]])

    x, y = half(x, -x), half(y, y)
    nx, ny = half(nx, -nx), half(ny, ny)
    arc = half(arc, 0.5 * pipe.mid_perimeter - arc)
    return Outline(
        np.concatenate([x, -x]),
        np.concatenate([y, -y]),
        np.concatenate([nx, -nx]),
        np.concatenate([ny, -ny]),
        np.tile(half(bend, bend), 2),
        np.tile(half(weights, weights), 2),
        np.concatenate([arc, 0.5 * pipe.mid_perimeter + arc]),
        pipe.wall,
        2.0 * (flat + reach) + pipe.wall,
        2.0 * half_height + pipe.wall,
        name,
        2 * (side.x.size, FLAT_POINTS, FLAT_POINTS, side.x.size),
    )
