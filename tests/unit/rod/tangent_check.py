"""Difference the residuals of the kernels, uncompiled; prints the errors of their tangents.

Run by test_tangent.py in a process of its own, because kernels that only kernels call cannot be
reached once compiled. States are random, far from equilibrium: nothing cancels.
"""

import json
import sys

import numpy as np

from bowfem._kernels import assembly, element, kinematics, mesh as meshes, records, state, strands
from bowfem.rod import Force, LineLoad, MomentTable, Pressure, Rod, Settings, Spring, TautString
from bowfem.rod.engine import _Engine

STEP = 1e-5  # central differences: error about STEP^2 of the third derivative
INNER = slice(1, 4)


class Bench:
    """A rod with random state, laid out as the solver does."""

    def __init__(self, rod, supports=(), loads=(), string=None, contacts=()):
        engine = _Engine(rod, supports, loads, string, Settings())
        self.model = records.share_model(engine.model)
        self.loads = records.share_loads(engine.loads)
        self.string = records.share_string(engine.string)
        n = rod.n_elements
        self.mesh, self.work = records.new_mesh(n), records.new_work(self.model.reference)
        rng = np.random.default_rng(7)
        state.load_state(self.model, self.mesh, engine.rest)
        self.mesh.pieces = len(contacts)
        for i, ends in enumerate(contacts):
            self.mesh.contact[i] = ends
        meshes.build(self.model, self.mesh)
        na = self.mesh.active
        self.mesh.psi[:na] = rng.uniform(-0.4, 0.4, (na, 5))
        self.mesh.psi[: na - 1, 4] = self.mesh.psi[1:na, 0]
        self.mesh.r[: na + 1] = rng.uniform(-1.0, 1.0, (na + 1, 2))
        self.mesh.G[:na] = rng.uniform(-3.0, 3.0, (na, 2))
        self.mesh.T = 2.3
        self.control = np.array([0.8, -0.6, 1.7, 1.1])

    def element(self, a):
        """Local matrix of an element; its last column is the residual."""
        kinematics.kinematics(self.loads, self.mesh, self.control[0])
        element.element(self.model, self.mesh, self.work, self.loads, a, 1.0)
        return self.work.local.copy()

    def system(self, part):
        """Residual and dense matrix of `part` of the assembly, tension and path last."""
        n = 5 * self.mesh.active + 3
        w = self.work
        for array in (w.band, w.rhs, w.row, w.border):
            array[:] = 0.0
        w.path[:] = 0.0
        part()
        dense = np.zeros((n, n + 2))
        for j in range(n):
            for i in range(max(0, j - 7), min(n, j + 8)):
                dense[i, j] = w.band[j, records.DIAG + i - j]
        for b in range(1, records.MAX_BORDER):  # a bridge's own unknown, eliminated
            if w.border[b, b]:
                dense[:, :n] -= np.outer(w.rhs[:n, 1 + b], w.row[b, :n]) / w.border[b, b]
        dense[:, n], dense[:, n + 1] = w.rhs[:n, 1], w.path[:n]
        return w.rhs[:n, 0].copy(), dense, w.border[0].copy(), w.row[0, :n].copy()

    def node(self, i, by):
        """Move unknown `i` of the band (position and rotation of nodes) by a step."""
        k, part = divmod(i, 5)
        if part < 2:
            self.mesh.r[k, part] += by
        elif part == 2:
            if k < self.mesh.active:
                self.mesh.psi[k, 0] += by
            if k > 0:
                self.mesh.psi[k - 1, 4] += by


def difference(move, value):
    """Central difference of ``value()`` under ``move(by)``."""
    move(STEP)
    ahead = value()
    move(-2 * STEP)
    behind = value()
    move(STEP)
    return (ahead - behind) / (2 * STEP)


def element_error(bench, a):
    """Largest error of an element's tangent over its largest entry."""
    m = bench.mesh

    def change(array, *at):
        def move(by):
            array[at] += by

        return move

    moves = [change(m.psi, a, i) for i in (1, 2, 3, 0)]

    def pull(by):
        m.T += by

    moves += [
        change(m.G, a, 0),
        change(m.G, a, 1),
        change(m.psi, a, 4),
        pull,
        change(bench.control, 0),
    ]
    if not m.wrapped[a]:
        del moves[7]
    columns = [0, 1, 2, 3, 4, 5, 6, 8] if not m.wrapped[a] else list(range(9))
    tangent = bench.element(a)
    errors = [
        np.max(np.abs(difference(move, lambda: bench.element(a)[:, 9]) - tangent[:, col]))
        for col, move in zip(columns, moves, strict=True)
    ]
    return max(errors) / np.max(np.abs(tangent[:, :9]))


def system_error(bench, part, length=False):
    """Largest error of a part of the assembly over its largest entry; and of the length's."""
    n = 5 * bench.mesh.active + 3
    _, dense, border, row = bench.system(part)
    errors, scale = [], np.max(np.abs(dense))

    def residual():
        force, _, edge, _ = bench.system(part)
        return np.append(force, edge[records.BORDER_RESIDUAL])

    for i in (i for i in range(n) if i % 5 < 3):
        change = difference(lambda by, i=i: bench.node(i, by), residual)
        errors.append(np.max(np.abs(change[:-1] - dense[:, i])) / scale)
        if length:
            errors.append(abs(change[-1] - row[i]))
    if length:  # tension, and the nock point along a path

        def pull(by):
            bench.mesh.T += by

        def nock(by):
            bench.control[1] += 0.6 * by
            bench.control[2] += 0.8 * by

        errors.append(np.max(np.abs(difference(pull, residual)[:-1] - dense[:, n])) / scale)
        change = difference(nock, residual)
        errors.append(np.max(np.abs(change[:-1] - dense[:, n + 1])) / scale)
        errors.append(abs(change[-1] - border[records.BORDER_PATH]))
    return max(errors)


def errors():
    """Error of the tangent, case by case."""
    nodes = np.array([0.0, 0.3, 0.55, 1.0, 1.3, 1.5])
    shape: dict = {
        "EI": lambda s: 2.0 - s,
        "curvature0": lambda s: -1.0 - s,
        "belly": lambda s: 0.05 + 0.02 * s,
    }
    stiff = Rod.from_curvature(nodes, **shape)
    soft = Rod.from_curvature(nodes, **shape, EA=30.0, GA=20.0)
    k = np.linspace(-6.0, 6.0, 41)
    table = [
        np.broadcast_to(v, (5, 4, 41)).copy()
        for v in (k, np.tanh(k / 2), 0.5 / np.cosh(k / 2) ** 2)
    ]
    bent = Rod.from_curvature(nodes, EI=1.0, EA=30.0).with_table(MomentTable(*table))
    spread = [LineLoad(x=1.0, y=-2.0), Pressure(lambda s: 3.0 + s), Pressure(0.5, constant=True)]
    whole = [((4, 1.0), (1, 0.0))]
    found = {}
    for name, rod in {"inextensible": stiff, "extensible": soft, "table": bent}.items():
        found[name] = element_error(Bench(rod), 2)
        found[f"{name}, spread loads"] = element_error(Bench(rod, loads=spread), 2)
        bench = Bench(rod, string=TautString(EA=50.0), contacts=whole)
        found[f"{name}, wrapped"] = element_error(bench, 2)
    cut = Bench(bent, string=TautString(), contacts=[((4, 1.0), (2, 0.4))])
    found["table, wrapped, cut"] = element_error(cut, 3)

    loads = [
        Force(node=2, x=1.0, y=2.0, follower=True),
        Force(node=4, y=-2.0, follower=True, constant=True),
        Force(y=1.0),
    ]
    bench = Bench(soft, [Spring(1, x=2.0, y=3.0, turn=4.0)], loads)

    def held():
        assembly.supports(bench.loads, bench.mesh, bench.work, bench.control, np.ones(4))

    found["follower forces and springs"] = system_error(bench, held)
    ties = {
        "straight, tied beyond the end": (TautString(across=0.2, along=0.1), []),
        "one contact": (TautString(), [((4, 1.0), (2, 0.4))]),
        "two contacts": (TautString(), [((4, 1.0), (3, 0.3)), ((2, 0.7), (1, 0.0))]),
        "two contacts, tied beyond": (
            TautString(along=0.1),
            [((4, 0.6), (3, 0.3)), ((2, 0.7), (1, 0.2))],
        ),
    }
    for name, (string, contacts) in ties.items():
        bench = Bench(soft, string=string, contacts=contacts)

        def pieces(bench=bench):
            way = np.array([0.0, 0.6, 0.8, 0.0])
            strands.add_strands(
                bench.model, bench.string, bench.mesh, bench.work, bench.control, way
            )

        found[f"string, {name}"] = system_error(bench, pieces, length=True)
    return found


if __name__ == "__main__":
    json.dump(errors(), sys.stdout)
