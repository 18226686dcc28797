"""Pressing the hot pipe between plates: force and shape, from first touch to closed."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from bowfem.errors import BowfemError, InputError
from bowfem.section._checks import positive
from bowfem.section._numerics import gauss
from bowfem.section.pipe import Pipe

Array = NDArray[np.float64]

#: Collocation points of an element, as on the rod.
POINTS = 4
TOLERANCE = 1e-11
MOST_STEPS = 30


@dataclass(frozen=True, eq=False)
class Pressing:
    """Hold the states of a hot pipe between two frictionless plates, n_h of them.

    Attributes
    ----------
    thickness : ndarray, shape (n_h,)
        Outer thickness, the distance of the plates, m.
    force : ndarray, shape (n_h,)
        Force on a plate per length of pipe times squared mid radius over the wall's bending
        stiffness at forming temperature, ``F R^2 / D``; of the ring alone, not of the material.
    flattening : ndarray, shape (n_h,)
        Share of the mid diameter by which the mid-wall is pressed in.
    flat : ndarray, shape (n_h,)
        Length of each flat, m; zero while the plates touch along lines.
    width : ndarray, shape (n_h,)
        Outer width, m.
    curvature : ndarray, shape (n_h, 2)
        Of the mid-wall under the plate (at the edge of the flat) and at the side, 1/m.
    x, y : ndarray, shape (n_h, n_points)
        A quarter of the mid-wall at its collocation points, from the side up, m.
    newton_steps : ndarray of int, shape (n_h,)
        Steps of Newton's method.
    residual : tuple of ndarray
        Size of the residual before each step, for each thickness.
    """

    thickness: Array
    force: Array
    flattening: Array
    flat: Array
    width: Array
    curvature: Array
    x: Array
    y: Array
    newton_steps: NDArray[np.int64]
    residual: tuple[Array, ...]


def press(pipe: Pipe, thicknesses: ArrayLike, n_elements: int = 8) -> Pressing:
    """Press a hot pipe to given thicknesses.

    Parameters
    ----------
    pipe : Pipe
        The pipe.
    thicknesses : array_like, shape (n_h,)
        Outer thicknesses, m, from the outer diameter down to twice the wall, in any order.
    n_elements : int, optional
        Elements along the bent part of a quarter.

    Raises
    ------
    InputError
        When a thickness lies outside that range.
    BowfemError
        When Newton's method does not converge.

    Notes
    -----
    The hot wall is a rod that keeps its length and wants its first curvature ``1 / R`` back. By
    symmetry a quarter is solved, without friction, by collocation at Gauss points. The plate
    touches along a line as long as the wall under it is still convex; from there on part of the
    wall lies on it, straight, and the length of that part is one more unknown, with one more
    equation: no curvature where the flat begins. The moment there comes from equilibrium, so it
    is as accurate as the shape.

    Examples
    --------
    >>> pressed = press(Pipe(26.67e-3, 2.87e-3), [20.5e-3, 14.77e-3])
    >>> [round(float(force), 3) for force in pressed.force], round(1e3 * float(pressed.flat[1]), 3)
    ([2.606, 5.742], 11.343)
    """
    h = np.atleast_1d(np.asarray(thicknesses, dtype=float))
    if h.ndim != 1:
        raise InputError("thicknesses", thicknesses, "one row of numbers, m")
    for each in h:
        pipe.check_thickness(float(each))
    n = int(positive("n_elements", n_elements, "a whole number above 0"))
    radius = 0.5 * pipe.mid_diameter
    quarter = _Quarter(n)
    states: dict[float, _State] = {}
    state = quarter.round()
    for each in sorted(h.tolist(), reverse=True):
        state = states[each] = quarter.pressed_from(state, 0.5 * (each - pipe.wall) / radius)
    found = [states[each] for each in h.tolist()]
    shapes = [quarter.shape(each) for each in found]
    x = np.array([shape[0] for shape in shapes]) * radius
    flat = np.array([each.flat for each in found])
    return Pressing(
        h,
        np.array([each.force for each in found]),
        1.0 - np.array([each.height for each in found]),
        2.0 * flat * radius,
        2.0 * radius * np.array([shape[2] for shape in shapes]) + pipe.wall,
        np.array([quarter.end_curvatures(each) for each in found]) / radius,
        x,
        np.array([shape[1] for shape in shapes]) * radius,
        np.array([len(each.residual) for each in found]),
        tuple(np.array(each.residual) for each in found),
    )


@dataclass(frozen=True, eq=False)
class _State:
    """Hold a quarter ring of radius 1 and stiffness 1 under half a plate's force."""

    height: float
    change: Array  # of curvature at the points
    force: float  # on the whole plate
    moment: float  # on the wall under the plate, curvature change there
    flat: float
    residual: list[float]


class _Quarter:
    """Collocation on the bent part of the quarter, from the side (s = 0) to the plate."""

    def __init__(self, n_elements: int) -> None:
        _, weight, running = gauss(POINTS)
        m = n_elements * POINTS
        self.weights = np.tile(weight, n_elements) / n_elements
        self.running = np.zeros((m, m))
        for j in range(n_elements):
            a, b = j * POINTS, (j + 1) * POINTS
            self.running[a:b, a:b] = running / n_elements
            self.running[b:, a:b] = weight / n_elements
        self.to_end = self.weights - self.running  # integral from each point to the end
        self.m = m

    def round(self) -> _State:
        """Return the pipe as it comes."""
        return _State(1.0, np.zeros(self.m), 0.0, 0.0, 0.0, [])

    def _angles(self, change: Array, length: float) -> Array:
        return 0.5 * np.pi + length * (self.running @ (1.0 + change))

    def shape(self, state: _State) -> tuple[Array, Array, float]:
        """Return x and y of the points, from the middle, and half the mid-wall's width."""
        length = 0.5 * np.pi - state.flat
        angle = self._angles(state.change, length)
        across = length * float(self.weights @ -np.cos(angle)) + state.flat
        x = across + length * (self.running @ np.cos(angle))
        return x, length * (self.running @ np.sin(angle)), across

    def end_curvatures(self, state: _State) -> tuple[float, float]:
        """Return curvature under the plate and at the side, from equilibrium."""
        length = 0.5 * np.pi - state.flat
        angle = self._angles(state.change, length)
        arm = -length * float(self.weights @ np.cos(angle))
        return 1.0 + state.moment, 1.0 + state.moment + 0.5 * state.force * arm

    def pressed_from(self, state: _State, height: float) -> _State:
        """Follow the pressing down to a height, in steps that Newton's method can take."""
        step = height - state.height
        while state.height != height:
            to = state.height + step
            if abs(to - height) < 1e-12:
                to = height
            new = self._solve(state, to)
            if new is None:
                step *= 0.5
                if abs(step) < 1e-6:
                    raise BowfemError(f"section: pressing stopped at height {state.height:.6g} R")
                continue
            state, step = new, height - to if to != height else step
        return state

    def _solve(self, start: _State, height: float) -> _State | None:
        """Touch along a line first; where the wall would turn hollow, let it lie on the plate."""
        line = self._newton(start, height, flat=False) if start.flat == 0.0 else None
        if line is not None and line.moment >= -1.0:
            return line
        return self._newton(line if line is not None else start, height, flat=True)

    def _newton(self, start: _State, height: float, flat: bool) -> _State | None:
        """Solve equilibrium, height and closing angle, and with a flat its edge, by Newton."""
        m = self.m
        z = np.array([*start.change, start.force, start.moment, start.flat])
        size = m + 2 + flat
        history = []
        for _ in range(MOST_STEPS):
            residual, tangent = self._system(z, height, flat)
            history.append(float(np.max(np.abs(residual))))
            if not np.isfinite(history[-1]) or history[-1] > 1e3:
                return None
            if history[-1] < TOLERANCE:
                kept = float(z[m + 2]) if flat else 0.0
                if kept < 0.0 or kept >= 0.5 * np.pi:
                    return None
                return _State(height, z[:m], float(z[m]), float(z[m + 1]), kept, history)
            z[:size] -= np.linalg.solve(tangent[:size, :size], residual[:size])
            if not flat:
                z[m + 2] = 0.0
        return None

    def _system(self, z: Array, height: float, flat: bool) -> tuple[Array, Array]:
        """Return residual and exact tangent.

        At each point: the curvature change is the moment, that at the plate plus half the force
        times the arm, ``q = M + F/2 (x - x_plate)``.
        """
        m = self.m
        q, force, moment = z[:m], z[m], z[m + 1]
        length = 0.5 * np.pi - (z[m + 2] if flat else 0.0)
        angle = self._angles(q, length)
        cosine, sine = np.cos(angle), np.sin(angle)
        turn = length * self.running  # d angle / d q
        stretch = self.running @ (1.0 + q)  # d angle / d length
        arm = -length * (self.to_end @ cosine)
        darm = length * self.to_end @ (sine[:, None] * turn)
        residual = np.zeros(m + 3)
        tangent = np.zeros((m + 3, m + 3))
        residual[:m] = q - moment - 0.5 * force * arm
        tangent[:m, :m] = np.eye(m) - 0.5 * force * darm
        tangent[:m, m], tangent[:m, m + 1] = -0.5 * arm, -1.0
        by_length = -self.to_end @ cosine + length * (self.to_end @ (sine * stretch))
        tangent[:m, m + 2] = 0.5 * force * by_length
        residual[m] = length * float(self.weights @ sine) - height
        tangent[m, :m] = length * ((self.weights * cosine) @ turn)
        tangent[m, m + 2] = -float(self.weights @ (sine + length * cosine * stretch))
        residual[m + 1] = length * float(self.weights @ (1.0 + q)) - 0.5 * np.pi
        tangent[m + 1, :m] = length * self.weights
        tangent[m + 1, m + 2] = -float(self.weights @ (1.0 + q))
        residual[m + 2] = (1.0 + moment) if flat else 0.0
        tangent[m + 2, m + 1] = 1.0
        return residual, tangent
