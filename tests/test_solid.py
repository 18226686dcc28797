"""The solid model: its mesh, its input and what it reads back; a slice where the program is."""

import shutil

import numpy as np
import pytest

from benchmarks.solid.__main__ import main
from benchmarks.solid.cases import CASES, COARSE, ELASTIC
from benchmarks.solid.ccx import deck, read
from benchmarks.solid.mesh import HEX20, Mesh, half_wall, through
from benchmarks.solid.slice import Plastic
from benchmarks.solid.stored import stored
from bowfem.section import Pipe, pressed

OUTLINE = pressed(Pipe(26.67e-3, 3.1242e-3), 12e-3)


def slab(counts=(6, 8), layers=3, length=1.0):
    wall = through(*half_wall(OUTLINE, counts), 1e3 * OUTLINE.wall, layers)
    planes = [np.dstack([wall, np.full(wall.shape[:2], z)]) for z in (0.0, 0.5 * length, length)]
    return Mesh.swept(np.stack(planes, axis=2))


def volume(mesh):
    """Return the volume of 20-node hexahedra by 3 x 3 x 3 Gauss points.

    Shape functions of the serendipity family: Zienkiewicz and Taylor, The Finite Element Method,
    from memory.
    """
    corners = HEX20 - 1.0
    points, weights = np.polynomial.legendre.leggauss(3)
    total = 0.0
    nodes = np.array([[mesh.nodes[int(n)] for n in row] for row in mesh.elements])
    for i, a in enumerate(points):
        for j, b in enumerate(points):
            for k, c in enumerate(points):

                def shape(at):
                    u = corners * at
                    edge = np.sum(corners == 0, axis=1) == 1
                    bubble = np.where(corners == 0, 1.0 - np.square(at), 1.0 + u)
                    corner = 0.125 * np.prod(1.0 + u, axis=1) * (np.sum(u, axis=1) - 2.0)
                    return np.where(edge, 0.25 * np.prod(bubble, axis=1), corner)

                at, h = np.array([a, b, c]), 1e-5
                slope = np.stack(
                    [(shape(at + h * e) - shape(at - h * e)) / (2.0 * h) for e in np.eye(3)]
                )
                jacobian = np.einsum("dn,enx->edx", slope, nodes)
                size = np.abs(np.linalg.det(jacobian))
                total += weights[i] * weights[j] * weights[k] * float(np.sum(size))
    return total


def test_mesh_fills_half_the_wall():
    assert 2.0 * volume(slab()) == pytest.approx(1e6 * OUTLINE.area, rel=2e-5)


def test_elements_share_their_nodes():
    mesh = slab()
    assert mesh.elements.shape[1] == 20
    assert sorted(set(mesh.elements.ravel())) == sorted(mesh.nodes)
    assert all(len(set(row)) == 20 for row in mesh.elements.tolist())


def test_input_names_what_it_needs():
    mesh = slab(counts=(1, 2), layers=1)
    text = deck(mesh, Plastic(reference=52.0).deck, [[(1, 2, 1.0)]], [(1, 3)], {(2, 2): 1.0}, [1])
    lines = text.splitlines()
    assert lines[0].startswith("*NODE") and text.count("*EQUATION") == 1
    assert f"{len(mesh.nodes) + 1},0,0,0" in lines  # the node that carries the turn of the end
    at = lines.index("*DEFORMATION PLASTICITY") + 1
    modulus, poisson, reference, exponent, alpha = map(float, lines[at].split(","))
    assert (modulus, poisson, reference, exponent) == (2900.0, 0.4, 52.0, 5.5)
    # strain at the reference stress beyond the elastic is alpha times the elastic one
    assert alpha * reference / modulus == pytest.approx(0.014)
    assert max(map(len, lines)) < 132


def test_reads_the_last_tables():
    one = """
 displacements (vx,vy,vz) for set SEEN and time  {t}

         1  {t}  2.0  3.0

 forces (fx,fy,fz) for set SEEN and time  {t}

         1  4.0  5.0  {t}

 stresses (elem, integ.pnt.,sxx,syy,szz,sxy,sxz,syz) for set BODY and time  {t}

         1   1  1.0 2.0 3.0 4.0 5.0 {t}
         1   2  1.0 2.0 3.0 4.0 5.0 6.0
"""
    found = read(one.format(t=0.5) + one.format(t=1.0))
    assert found.moved[1].tolist() == [1.0, 2.0, 3.0]
    assert found.reaction[1].tolist() == [4.0, 5.0, 1.0]
    assert found.stress.shape == (1, 2, 6) and found.stress[0, 0, 5] == 1.0


def test_two_meshes_agree_and_no_force_is_left():
    for case in CASES:
        for row in case.stored():
            assert row["spread"] < 0.01, case.name
            assert abs(row["force"]) < 1.0, case.name  # N, of thousands in each half
    assert "CalculiX" in stored()["about"]["program"]


def test_shows_what_is_stored(monkeypatch, capsys):
    monkeypatch.setattr("sys.argv", ["solid", "3/4 in Sch 40 12 mm", "straight", "elastic"])
    assert main() == 0
    assert "M solid" in capsys.readouterr().out


@pytest.mark.skipif(shutil.which("ccx") is None, reason="CalculiX is not installed")
def test_a_slice_runs_again():
    (case,) = (c for c in CASES if c.name == f"3/4 in Sch 40 12 mm straight {ELASTIC}")
    stored_row = case.stored()[0]
    found = case.solid(stored_row["strain"], COARSE)
    assert found.moment == pytest.approx(stored_row["moment"], rel=2e-3)
