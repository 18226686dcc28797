"""The walk handed on: meshes with fields for each state, a time series, tables, a solid.

meshio is imported inside the functions.
"""

from __future__ import annotations

import csv
import io
import os
import struct
import tempfile
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING
from xml.sax.saxutils import quoteattr

import numpy as np
from numpy.typing import NDArray

from bowfem.errors import BowfemError
from bowfem.files import check_folder, make_folder, write_whole
from bowfem.findings import DrawLength
from bowfem.show.body.quantities import (
    QUANTITIES,
)
from bowfem.show.body.swept import (
    UNSTRUNG,
    SweptBow,
    SweptState,
)
from bowfem.show.record import BOW, STATES_AND_STATIONS
from bowfem.units import System, column, convert

if TYPE_CHECKING:
    from bowfem.bow import Walk

Array = NDArray[np.float64]

#: Columns of the walk's table, with their dimension.
WALK = {**BOW, "yield_share": "share"}


def field_name(name: str) -> str:
    """Return the name of a quantity in a mesh: SI units but for shares, which are plain numbers.

    Examples
    --------
    >>> field_name("stress"), field_name("yield"), field_name("bending")
    ('stress_Pa', 'yield', 'bending_1_per_m')
    """
    units = {"stress": "_Pa", "curvature": "_1_per_m", "spring_rate": "_N_per_m", "share": ""}
    return name + units.get(QUANTITIES[name].kind, "_SI")


def export(walk: Walk, folder: str | os.PathLike[str], system: System = "us") -> list[Path]:
    """Write a walk as files for other programs.

    Parameters
    ----------
    walk : Walk
        The walk.
    folder : str or path
        Where to; made if missing, files of the same names in it are replaced.
    system : {"us", "metric"}
        Units of the tables. Meshes are in SI units, the solid in mm.

    Returns
    -------
    list of Path
        What was written: `state-*.vtu`, one for each state, of hexahedra through the wall, the
        first one unstrung; `walk.pvd`, which puts them in order of draw to the pivot in m (the
        unstrung bow at zero), instants of a shot in order of time, s; `walk.csv` and
        `stations.csv`; `unstrung.stl`.

    Raises
    ------
    InputError
        The folder cannot be made or written to.
    BowfemError
        meshio is missing.
    """
    check_folder(folder, "--out")
    if find_spec("meshio") is None:
        raise BowfemError("the export needs meshio: install bowfem with its extra 'view'")
    bow = SweptBow.from_walk(walk)
    target, written = make_folder(folder, "--out"), []

    def put(name: str, data: bytes) -> None:
        write_whole(target / name, data, "--out")
        written.append(target / name)

    series = []
    digits = len(str(bow.n_states))
    for number, state in enumerate(bow.states):
        name = f"state-{number:0{digits}d}.vtu"
        put(name, vtu(bow, bow.at(state)))
        order = walk.draw if walk.time is None else walk.time
        if state != UNSTRUNG or walk.time is None:  # unstrung is no instant of a shot
            series.append((0.0 if state == UNSTRUNG else float(order[state]), name))
    put("walk.pvd", pvd(series))
    put("walk.csv", walk_csv(walk, system).encode())
    put("stations.csv", stations_csv(walk, system).encode())
    put("unstrung.stl", stl(bow, bow.at(UNSTRUNG)))
    return written


def vtu(bow: SweptBow, state: SweptState) -> bytes:
    """Return one state as the content of a VTU file, m and SI units.

    Fields on the points are named by `field_name`; `station_m` is the distance from the bow's
    centre along the pipe, negative on the lower limb. `part` numbers the cells by the body they
    belong to: 0 the bow's pipe, then sleeves, rods and strips.
    """
    import meshio

    station = [
        np.broadcast_to(bow.s[part.first : part.last + 1, None, None], swept.points.shape[:-1])
        for part, swept in zip(bow.parts, state.parts, strict=True)
    ]
    cells = [np.full(len(part.hexahedra), number) for number, part in enumerate(bow.parts)]
    mesh = meshio.Mesh(
        state.points,
        [("hexahedron", bow.hexahedra)],
        point_data={
            "station_m": np.concatenate([each.ravel() for each in station]),
            **{field_name(name): state.field(name) for name in QUANTITIES},
        },
        cell_data={"part": [np.concatenate(cells)]},
    )
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "state.vtu"
        mesh.write(path, binary=True)
        return path.read_bytes()


def pvd(series: list[tuple[float, str]]) -> bytes:
    """Return the list of a time series: time, here the draw, and file of each state."""
    sets = "\n".join(
        f"    <DataSet timestep={quoteattr(repr(time))} part={quoteattr('0')} "
        f"file={quoteattr(name)}/>"
        for time, name in series
    )
    return (
        '<?xml version="1.0"?>\n<VTKFile type="Collection" version="0.1">\n  <Collection>\n'
        f"{sets}\n  </Collection>\n</VTKFile>\n"
    ).encode()


def stl(bow: SweptBow, state: SweptState) -> bytes:
    """Return the body as the content of a binary STL file, mm: a closed surface for each part.

    Notes
    -----
    80 bytes of header, the count, then for each triangle normal, three corners, two spare bytes,
    little-endian (format of 1988, from memory).
    """
    quads = bow.skin()
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    corners = 1000.0 * state.points[triangles]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(normals, axis=1)
    solid = size > 0.0  # where a round section has no flats, corners fall together
    rows = np.zeros(int(np.sum(solid)), np.dtype([("v", "<f4", (4, 3)), ("spare", "<u2")]))
    rows["v"][:, 0] = normals[solid] / size[solid, None]
    rows["v"][:, 1:] = corners[solid]
    return b"bow, unstrung, mm".ljust(80) + struct.pack("<I", len(rows)) + rows.tobytes()


def _table(head: list[str], rows: Iterator[list[str]]) -> str:
    with io.StringIO() as text:
        writer = csv.writer(text, lineterminator="\n")
        writer.writerow(head)
        writer.writerows(rows)
        return text.getvalue()


def _numbers(values: Array) -> list[str]:
    """Write numbers so that they read back the same; nothing where there is none."""
    return ["" if np.isnan(value) else repr(float(value)) for value in values]


def walk_csv(walk: Walk, system: System) -> str:
    """Return one row a state; the head of each column names its unit."""
    columns = dict(DrawLength.of(walk, walk.draw).items(system))
    for name, kind in WALK.items():
        columns[column(name, kind, system)] = convert(getattr(walk, name), kind, system)
    return _table(list(columns), (_numbers(row) for row in np.stack([*columns.values()], axis=1)))


def stations_csv(walk: Walk, system: System) -> str:
    """Return one row for each limb, state and station; the head of each column names its unit."""
    head = [
        "limb",
        "state",
        column("draw_to_pivot", "length", system),
        column("s", "length", system),
        *(column(name, kind, system) for name, kind in STATES_AND_STATIONS.items()),
    ]

    def rows() -> Iterator[list[str]]:
        for side, limb in walk.distinct_limbs:
            s = convert(limb.s, "length", system)
            for state, draw in enumerate(convert(walk.draw, "length", system)):
                fixed = ["both" if side is None else side.value, str(state), repr(float(draw))]
                values = [
                    convert(getattr(limb, name)[state], kind, system)
                    for name, kind in STATES_AND_STATIONS.items()
                ]
                for row in np.stack([s, *values], axis=1):
                    yield [*fixed, *_numbers(row)]

    return _table(head, rows())
