"""What holds a rod and what acts on it. Nodes count from 0; -1 is the last."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from bowfem._kernels.records import Loads
from bowfem.errors import InputError
from bowfem.rod._checks import Field, check_field, check_numbers
from bowfem.rod.shape import Rod

Component = Literal["x", "y", "turn"]
COMPONENTS = {"x": 0, "y": 1, "turn": 2}


@dataclass(frozen=True)
class Support:
    """Hold some of a node's position `x`, `y` and its `turn` (rotation).

    Parameters
    ----------
    node : int
        Node held.
    holds : tuple of {"x", "y", "turn"}
        What is held: all three is a clamp, `("x", "y")` a pin, `("y", "turn")` a guide.
    moved : tuple of float
        Displacement, m, and turn, rad, imposed on what is held, times the load factor.
    """

    node: int
    holds: tuple[Component, ...]
    moved: tuple[float, float, float] = (0.0, 0.0, 0.0)


def clamp(node: int = 0) -> Support:
    """Hold position and rotation of a node."""
    return Support(node, ("x", "y", "turn"))


def pin(node: int) -> Support:
    """Hold the position of a node, free to turn."""
    return Support(node, ("x", "y"))


def guide(node: int, along: Literal["x", "y"]) -> Support:
    """Let a node slide along `x` or `y` without turning."""
    return Support(node, ("y", "turn") if along == "x" else ("x", "turn"))


@dataclass(frozen=True)
class Spring:
    """Hold a node elastically: stiffness against `x`, `y`, N/m, and `turn`, N m/rad."""

    node: int
    x: float = 0.0
    y: float = 0.0
    turn: float = 0.0


@dataclass(frozen=True)
class Force:
    """Act on a node with a force (x, y), N, and a couple, N m, counter-clockwise.

    With `follower` the force turns with the node. `constant` loads do not scale with the factor.
    """

    node: int = -1
    x: float = 0.0
    y: float = 0.0
    couple: float = 0.0
    follower: bool = False
    constant: bool = False


@dataclass(frozen=True)
class LineLoad:
    """Act all along the rod: force (x, y) per unstressed length, N/m, fixed in direction.

    Each is a number, a function of arc length, or an array at the stations.
    """

    x: Field = 0.0
    y: Field = 0.0
    constant: bool = False


@dataclass(frozen=True)
class Pressure:
    """Act all along the rod toward its left normal, N/m, turning with it."""

    value: Field
    constant: bool = False


Load = Force | LineLoad | Pressure


def kernel_loads(
    rod: Rod, supports: Iterable[Support | Spring], loads: Iterable[Load], force: float
) -> Loads:
    """Lay supports and loads out for the kernels, over `force` and the rod's length."""
    n, length = rod.n_elements, rod.length
    dead, follower = np.zeros((2, n + 1, 3)), np.zeros((2, n + 1, 2))
    line, pressure = np.zeros((2, n, 4, 2)), np.zeros((2, n, 4))
    spring, value = np.zeros((n + 1, 3)), np.zeros((2, n + 1, 3))
    fixed = np.zeros((n + 1, 3), np.uint8)
    for item in _listed("supports", supports):
        if not isinstance(item, Support | Spring):
            raise InputError("supports", item, "Support or Spring")
        node = _node(item.node, n)
        if isinstance(item, Spring):
            stiff = _three("spring", (item.x, item.y, item.turn))
            if not np.all(stiff >= 0.0):
                raise InputError("spring", item, "of finite stiffness, at least 0")
            spring[node] += stiff * np.array([1.0, 1.0, length**-2]) * length / force
            continue
        moved = _three("moved", item.moved)
        for name in _listed("holds", item.holds):
            if not isinstance(name, str) or name not in COMPONENTS:
                raise InputError("holds", name, "x, y or turn")
            i = COMPONENTS[name]
            to = moved[i] / (1.0 if i == 2 else length)
            if fixed[node, i] and value[1, node, i] != to:
                raise InputError("supports", f"node {node}, {name}, twice", "held at one place")
            fixed[node, i] = 1
            value[1, node, i] = to
    for load in _listed("loads", loads):
        if not isinstance(load, Load):
            raise InputError("loads", load, "Force, LineLoad or Pressure")
        part = 0 if load.constant else 1
        if isinstance(load, Force):
            node = _node(load.node, n)
            x, y, couple = _three("force", (load.x, load.y, load.couple))
            xy = np.array([x, y]) / force
            (follower if load.follower else dead)[part, node, :2] += xy
            dead[part, node, 2] += couple / (force * length)
        elif isinstance(load, LineLoad):
            for i, q in enumerate((load.x, load.y)):
                field = check_field("line load", q, rod.stations, -np.inf)
                line[part, :, :, i] += field * length / force
        else:
            pressure[part] += (
                check_field("pressure", load.value, rod.stations, -np.inf) * length / force
            )
    spread = bool(np.any(line) or np.any(pressure))
    return Loads(dead, follower, line, pressure, spring, fixed, value, spread)


def _listed(name: str, items: Iterable[Any]) -> list[Any]:
    try:
        return list(items)
    except TypeError:
        raise InputError(name, items, "a list") from None


def _three(name: str, values: object) -> np.ndarray:
    found = check_numbers(name, values)
    if found.shape != (3,) or not np.all(np.isfinite(found)):
        raise InputError(name, values, "three finite numbers")
    return found


def _node(node: int, n_elements: int) -> int:
    whole = isinstance(node, int | np.integer) and not isinstance(node, bool)
    if not whole or not -n_elements - 1 <= node <= n_elements:
        raise InputError("node", node, f"between 0 and {n_elements}, or -1 for the last")
    return node % (n_elements + 1)
