"""The bow to look at: turned, coloured, walked from unstrung to full draw, still or as a film.

pyvista is imported inside the functions. On a machine without a display it renders off screen.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from bowfem.design import Side
from bowfem.errors import BowfemError
from bowfem.findings import hot_spots
from bowfem.show.body.colour_scale import BANDS, MARK, MUTED, PAPER, WOUND, scale_ends, state_lines
from bowfem.show.body.flipped import FLIPPED, flipped_points
from bowfem.show.body.outline import band, tube
from bowfem.show.body.quantities import (
    QUANTITIES,
    check_quantity,
)
from bowfem.show.body.rendering import check_rendering
from bowfem.show.body.swept import (
    UNSTRUNG,
    State,
    SweptBow,
)
from bowfem.show.plot.bow import INK, MAP
from bowfem.units import System, convert, shown_unit

if TYPE_CHECKING:
    from bowfem.bow import Walk
    from bowfem.findings import SideStability

Array = NDArray[np.float64]

#: Window, pixels, and the parts of its width that the whole bow and the close-up get.
SIZE, WIDTHS = (1280, 800), (16, 9)
#: Most lines of the label.
LINES = 6
#: What the close-up shows to either side of the hardest worked place, m.
AROUND_SPOT = 0.05


class Scene:
    """A walk in a plotter: the state, the quantity, the ghost of the brace shape can be changed.

    Parameters
    ----------
    walk : Walk
        The walk.
    quantity : str
        A name of `QUANTITIES`.
    system : {"us", "metric"}
        Units of the scale and of the labels.
    plotter : pyvista.Plotter, optional
        Where to put it: its active view gets the whole bow, without a close-up. By default a new
        one, with both.
    off_screen : bool
        Whether a new plotter opens no window.
    size : tuple of int
        Width and height of a new plotter, pixels.
    sideways : SideStability, optional
        What was found of the bow sideways: how it would flip can then be laid over it, and is where
        it flips.

    Raises
    ------
    InputError
        There is no such quantity.
    BowfemError
        Nothing can be rendered here.

    Attributes
    ----------
    plotter : pyvista.Plotter
        The plotter.
    state : int or "unstrung"
        State of the walk shown.
    """

    def __init__(
        self,
        walk: Walk,
        quantity: str = "yield",
        *,
        system: System = "us",
        plotter: Any = None,
        off_screen: bool = True,
        size: tuple[int, int] = SIZE,
        sideways: SideStability | None = None,
    ) -> None:
        check_quantity(quantity)
        check_rendering()
        import pyvista as pv

        self.walk, self.bow = walk, SweptBow.from_walk(walk)
        self._at = lru_cache(maxsize=4)(self.bow.at)  # the ends are asked for again and again
        self.system: System = system
        self.state: State = walk.draw.size - 1
        self.quantity, self.ghost = quantity, True
        self._is_own = own = plotter is None
        if own:
            plotter = pv.Plotter(
                shape=(1, 2),
                col_weights=list(WIDTHS),
                border=False,
                off_screen=off_screen,
                window_size=list(size),
                lighting="three lights",
            )
        self.plotter = plotter
        # of another's plotter only the view that is active now is this scene's
        self._views = [0, 1] if own else [plotter.renderers.active_index]
        self._bar = ""
        ends = self._at(0), self._at(self.bow.n_states - 1)
        self._ends = {name: scale_ends(ends, name, system) for name in QUANTITIES}
        self._pieces = [self._piece(0, self.bow.s.size - 1)]
        if own:
            self._spot, first, last = _spot(walk, self.bow)
            self._pieces.append(self._piece(first, last, cut=True))
        self._lines: list[Any] = []
        for number, piece in enumerate(self._pieces):
            self._activate(number)
            plotter.set_background(PAPER)
            mesh, _ = piece
            # one array under the bar's own name: pyvista's bars are told apart by their titles
            plotter.add_mesh(
                mesh,
                name=f"wall{number}",
                scalars="shown",
                cmap=MAP,
                n_colors=BANDS,
                smooth_shading=False,
                show_scalar_bar=False,
                ambient=0.35,
                diffuse=0.75,
                nan_color=MUTED,
            )
        self._activate(0)
        ghost = _quads(self._at(0).points, self.bow.parts[0].skin())
        self._ghost = plotter.add_mesh(
            ghost, name="ghost", color=MUTED, opacity=0.15, smooth_shading=True, pickable=False
        )
        if own:
            plotter.enable_anti_aliasing("ssaa", all_renderers=True)
        self.flipped = sideways is not None and sideways.flips
        self._flipped: Any = None
        if sideways is not None:
            points = flipped_points(self.bow, self._at(0), sideways)
            self._flipped = plotter.add_mesh(
                _quads(points, self.bow.skin()),
                name="flipped",
                color=FLIPPED,
                opacity=0.4,
                smooth_shading=True,
                pickable=False,
                reset_camera=False,
            )
        self.update()
        self._aim()

    def _activate(self, number: int) -> None:
        at = self.plotter.renderers.index_to_loc(self._views[number])
        self.plotter.subplot(*np.atleast_1d(at))

    def _piece(self, first: int, last: int, *, cut: bool = False) -> tuple[Any, Any]:
        """Return the surface between two sections, and the numbers of its points in the bow's."""
        cells = self.bow.skin(first, last, cut=cut)
        used, renumbered = np.unique(cells, return_inverse=True)
        points = self._at(0).points[used]
        mesh = _quads(points, renumbered.reshape(cells.shape))
        mesh["shown"] = np.zeros(len(points))
        return mesh, used

    def update(
        self,
        state: State | None = None,
        quantity: str | None = None,
        ghost: bool | None = None,
        flipped: bool | None = None,
    ) -> None:
        """Show another state, another quantity, the brace shape or the flipped one, or not.

        Raises
        ------
        InputError
            There is no such state or quantity.
        """
        self.quantity = check_quantity(self.quantity if quantity is None else quantity)
        self.ghost = self.ghost if ghost is None else ghost
        chosen = QUANTITIES[self.quantity]
        wanted = self.state if state is None else state
        body = self._at(wanted)
        self.state = wanted if wanted == UNSTRUNG else int(wanted) % self.bow.n_states
        values = np.asarray(convert(body.field(self.quantity), chosen.kind, self.system))
        points = body.points
        for number, (mesh, used) in enumerate(self._pieces):
            mesh.points = points[used]
            mesh["shown"] = values[used]
            mapper = self.plotter.renderers[self._views[number]].actors[f"wall{number}"].mapper
            mapper.scalar_range = self._ends[self.quantity]
        self._ghost.SetVisibility(self.ghost and self.state != 0)
        self.flipped = self._flipped is not None and (self.flipped if flipped is None else flipped)
        if self._flipped is not None:
            self._flipped.SetVisibility(self.flipped)
        self._draw_string(body)
        self._write()

    def _draw_string(self, body: Any) -> None:
        """Lay the string, a mark along each piece of limb it lies on, and the wraps."""
        plotter, thickness = self.plotter, self.walk.design.string.thickness
        for view in range(len(self._pieces)):
            self._activate(view)
            for name in ("string", "contact0", "contact1", "contact2", "contact3"):
                plotter.remove_actor(f"{name} {view}", render=False)
            for number, wrap in enumerate(body.wraps):
                plotter.add_mesh(
                    _quads(*band(wrap, cut=view > 0)),
                    name=f"wrap{number} {view}",
                    color=WOUND,
                    render=False,
                    show_scalar_bar=False,
                    reset_camera=False,
                )
            lines = [("string", body.string, 0.5 * thickness, INK)] if body.string.size else []
            # thicker than the string, so that it is seen: a mark, not a body
            lines += [
                (f"contact{number}", line, (0.9 if view else 1.6) * thickness, MARK)
                for number, line in enumerate(body.contact[:4])
            ]
            for name, line, radius, colour in lines:
                plotter.add_mesh(
                    _quads(*tube(line, radius)),
                    name=f"{name} {view}",
                    color=colour,
                    render=False,
                    show_scalar_bar=False,
                    reset_camera=False,
                )
        self._activate(0)

    def label(self) -> str:
        """Say what is shown: the bow, the state, its weight and what is marked."""
        lines = state_lines(self.walk, self._at(self.state), self.state, self.system)
        if self.ghost and self.state != 0:
            lines.append("pale: shape at brace")
        if self.flipped:
            lines.append("orange: as it would flip")
        return "\n".join(lines)

    def _write(self) -> None:
        plotter, chosen = self.plotter, QUANTITIES[self.quantity]
        self._activate(0)
        lines = self.label().split("\n")
        # always as many, so that they stay in place from state to state
        plotter.add_text(
            "\n".join(lines + [" "] * (LINES - len(lines))),
            name="label",
            position=(0.03, 0.78),
            viewport=True,
            font_size=11,
            color=INK,
            render=False,
        )
        unit = shown_unit(chosen.kind, self.system)
        if self._bar in plotter.scalar_bars.keys():
            plotter.remove_scalar_bar(self._bar, render=False)
        mapper = plotter.renderers[self._views[0]].actors["wall0"].mapper
        # bars of one title share their colours: spaces tell this view's from another's
        self._bar = f"{chosen.label} ({unit}){' ' * self._views[0]}\n"
        plotter.add_scalar_bar(
            title=self._bar,
            mapper=mapper,
            n_labels=5,
            fmt="{:.4g}",
            color=INK,
            position_x=0.06,
            position_y=0.02,
            width=0.86,
            height=0.105,
            title_font_size=17,
            label_font_size=16,
            vertical=False,
            render=False,
        )
        if self._is_own:
            self._activate(1)
            plotter.add_text(
                f"{self._spot}\nwall cut open",
                name="spot",
                position=(0.06, 0.9),
                viewport=True,
                font_size=11,
                color=INK,
                render=False,
            )
            self._activate(0)

    def _aim(self) -> None:
        """Look at the bow from its right, a little from the belly's side, archer on the left."""
        bounds = self._bounds()
        self._activate(0)
        middle, size = bounds.mean(axis=0), np.ptp(bounds, axis=0)
        way = np.array([0.7, 0.12, -1.0])
        # lower and to the left of its middle, for the label and the scale
        at = middle + size[1] * np.array([0.05, -0.04, 0.0])
        _look(self.plotter.camera, at, way, 0.62 * size[1])
        self.plotter.reset_camera_clipping_range()
        if self._is_own:
            self._activate(1)
            self.aim_close_up()
            self._activate(0)

    def _bounds(self) -> Array:
        """Return lowest and highest corner of bow and string in all states, (2, 3)."""
        every = [self._at(state) for state in (UNSTRUNG, 0, -1)]
        points = np.concatenate([np.concatenate([b.points, b.string]) for b in every])
        return np.stack([points.min(axis=0), points.max(axis=0)])

    def aim_close_up(self) -> None:
        """Look into the wall that is cut open, wherever the limb has carried it."""
        if not self._is_own:
            return
        points = self._pieces[1][0].points
        low, high = points.min(axis=0), points.max(axis=0)
        camera = self.plotter.renderers[1].camera
        reach = 0.8 * max(float(np.hypot(*(high - low)[:2])), 0.05)
        _look(camera, 0.5 * (low + high), np.array([0.25, 0.3, -1.0]), reach)
        self.plotter.renderers[1].reset_camera_clipping_range()

    def picture(self) -> NDArray[np.uint8]:
        """Return what is seen, (height, width, 3).

        Raises
        ------
        BowfemError
            The renderer gave nothing but its background.
        """
        self.aim_close_up()
        self.plotter.render()
        image = np.asarray(self.plotter.screenshot(None, return_img=True))[..., :3]
        if np.ptp(image) == 0:
            raise BowfemError("the renderer of this machine gives empty pictures; try another one")
        return image

    def frames(self) -> Iterator[tuple[State, NDArray[np.uint8]]]:
        """Yield each state, from unstrung to the last, with its picture."""
        for state in self.bow.states:
            self.update(state)
            yield state, self.picture()

    def add_controls(self) -> None:
        """Put a slider along the draw, buttons and keys on the plotter."""
        plotter, names = self.plotter, list(QUANTITIES)
        self._activate(0)

        def walked(value: float) -> None:
            state = self.bow.states[round(value)]
            if state != self.state:
                self.update(state)
                self.aim_close_up()

        def following() -> None:
            self.update(quantity=names[(names.index(self.quantity) + 1) % len(names)])
            plotter.render()

        def haunted(on: bool) -> None:
            self.update(ghost=on)
            plotter.render()

        self.slider = plotter.add_slider_widget(
            walked,
            (0, self.bow.n_states),
            value=self.bow.states.index(self.state),
            fmt="%.0f",
            title="step of the walk: 0 unstrung, 1 brace, last full draw",
            pointa=(0.05, 0.22),
            pointb=(0.42, 0.22),
            color=INK,
            title_height=0.016,
            slider_width=0.014,
            tube_width=0.003,
            interaction_event="always",
        )
        plotter.add_checkbox_button_widget(
            haunted,
            value=self.ghost,
            position=(24, plotter.window_size[1] - 36),
            size=20,
            color_on="#00336f",
            color_off="#c9d2dc",
            background_color=INK,
        )

        def flipping() -> None:
            self.update(flipped=not self.flipped)
            plotter.render()

        plotter.add_key_event("n", following)
        plotter.add_key_event("f", flipping)
        plotter.add_key_event("b", lambda: haunted(not self.ghost))
        plotter.add_text(
            "b  shape at brace    n  next quantity    f  as it would flip",
            name="keys",
            position=(0.065, 0.962),
            viewport=True,
            font_size=9,
            color=MUTED,
        )


def _quads(points: Array, cells: NDArray[np.int64]) -> Any:
    import pyvista as pv

    return pv.PolyData.from_regular_faces(np.ascontiguousarray(points), cells)


def _look(camera: Any, at: Array, way: Array, half_height: float) -> None:
    """Aim without perspective, so that lengths compare."""
    camera.focal_point = tuple(at)
    camera.position = tuple(at + 3.0 * way / np.linalg.norm(way))
    camera.up = (0.0, 1.0, 0.0)
    camera.parallel_projection = True
    camera.parallel_scale = half_height


def _spot(walk: Walk, bow: SweptBow) -> tuple[str, int, int]:
    """Choose the close-up: where a limb is worked hardest."""
    spot = hot_spots(walk, 1)[0]
    middle = -spot.s if spot.side is Side.LOWER else spot.s
    first, last = np.searchsorted(bow.s, [middle - AROUND_SPOT, middle + AROUND_SPOT])
    last = min(int(last), bow.s.size - 1)
    return "where it is worked hardest", min(int(first), last - 2), last
