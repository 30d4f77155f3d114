"""The whole machine from chosen sides on one sheet, standing or moving."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import ceil
from types import MappingProxyType

import numpy as np
from PIL import Image

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.moving_parts import Figure, Places
from assembly.geometry.scene import Role
from assembly.report.render.camera import Camera, Size, from_bearing, looking, looking_at_all
from assembly.report.render.drawing import Box, Drawing
from assembly.report.render.palette import DARK_GREY, PAINTS, Paint, tints
from assembly.report.render.renderer import Renderer, rendering
from assembly.report.render.sheet import Layout, axes, heading, layout, legend, scale_bar
from assembly.report.render.stage import Layer, StageSolid
from assembly.report.render.view import view


@dataclass(frozen=True, eq=False)
class Cast:
    """Figures given from the point ``about`` of each, and the names and paints of those ``brought_out``."""

    solids: tuple[StageSolid, ...]
    brought_out: tuple[tuple[str, Paint], ...]

    def place(self, renderer: Renderer, places: Places, index: int) -> None:
        """Put all figures where they stand at ``index``."""
        renderer.place(places.rotations[index], places.centres[index])

    def points(self, places: Places, index: int) -> Floats:
        """All vertices (n, 3) mm at ``index``."""
        placed = zip(self.solids, places.rotations[index], places.centres[index], strict=True)
        return np.concatenate([solid.mesh.vertices @ turn.T + at for solid, turn, at in placed])


def gathered(figures: Sequence[Figure], brought_out: frozenset[str]) -> Cast:
    """The cast of ``figures``; those named are in colour and the others grey, all in colour where none is named."""
    paints = tints([figure.fixed and figure.name not in brought_out for figure in figures])
    solids, named = [], []
    for figure, paint in zip(figures, paints, strict=True):
        mesh = figure.mesh
        local = Mesh(mesh.vertices - figure.about, mesh.faces)
        if brought_out and figure.name not in brought_out:
            solids.append(StageSolid(Layer.REST, local, PAINTS[Role.QUIET]))
        else:
            solids.append(StageSolid(Layer.FIRST, local, paint))
            named.append((figure.name, paint))
    return Cast(tuple(solids), tuple(named))


def cameras(cast: Cast, places: Places, sights: Sequence[Floats], size: Size) -> list[Camera]:
    """One camera for each sight, all in one scale, with all that is ever there in sight."""
    fitted = [looking_at_all(_outermost(cast, places, sight), sight, size) for sight in sights]
    height = max(camera.height for camera in fitted)
    return [replace(camera, height=height) for camera in fitted]


def cameras_round(cast: Cast, places: Places, sights: Sequence[Floats], size: Size) -> list[Camera]:
    """Cameras for sights that go round the upright line through the middle, which stays where it is in the picture."""
    points = cast.points(places, 0)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    radius = float(np.linalg.norm((points - middle)[:, :2], axis=1).max())
    turn = np.linspace(0, 2 * np.pi, 72, endpoint=False)
    ring = np.stack([radius * np.cos(turn), radius * np.sin(turn), np.zeros_like(turn)], axis=1)
    rise = np.array([0.0, 0.0, np.ptp(points[:, 2]) / 2])
    drum = np.concatenate([middle + ring + rise, middle + ring - rise])
    height = max(looking_at_all(drum, sight, size).height for sight in sights)
    return [looking(sight, middle, height) for sight in sights]


def _outermost(cast: Cast, places: Places, sight: Floats) -> Floats:
    """The points that stand farthest out, as seen along ``sight``, at each of the places."""
    camera = looking(sight, (0.0, 0.0, 0.0), 1.0)
    axes = np.stack([camera.right, camera.up, camera.towards], axis=1)
    found = []
    for index in range(len(places)):
        points = cast.points(places, index)
        seen = points @ axes
        found.append(points[np.concatenate([seen.argmin(axis=0), seen.argmax(axis=0)])])
    return np.concatenate(found)


BEARING, ABOVE = 38.0, 24.0
"""Degrees left of straight ahead and above the horizon, where the viewer of a corner stands."""


@dataclass(frozen=True, eq=False)
class Sight:
    """Which way the viewer looks (3,), and how that is said below the picture."""

    towards: Floats
    label: str


SIGHTS: Mapping[str, Sight] = MappingProxyType(
    {
        "corner": Sight(from_bearing(BEARING, ABOVE), "from ahead, left and above"),
        "rear-corner": Sight(from_bearing(180 - BEARING, ABOVE), "from behind, left and above"),
        "front": Sight(np.array([-1.0, 0.0, 0.0]), "front"),
        "rear": Sight(np.array([1.0, 0.0, 0.0]), "rear"),
        "left": Sight(np.array([0.0, -1.0, 0.0]), "left side"),
        "right": Sight(np.array([0.0, 1.0, 0.0]), "right side"),
        "top": Sight(np.array([0.0, 0.0, -1.0]), "top"),
        "below": Sight(np.array([0.0, 0.0, 1.0]), "from below"),
    }
)


def turning(number: int) -> list[Floats]:
    """As many sights, once round the machine to the viewer's right, from the corner."""
    return [from_bearing(BEARING + 360 * step / number, ABOVE) for step in range(number)]


MOST_NAMED = 7
"""Parts that the legend has room for."""
_GHOST = 0.3
"""Opacity of other parts before those that are brought out."""


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """What is drawn: the figures of a machine and where they stand, with a caption each time."""

    title: str
    captions: tuple[str, ...]
    figures: tuple[Figure, ...]
    places: Places


@dataclass(frozen=True, slots=True)
class Look:
    """How it is drawn: from which ``SIGHTS``, in how many pixels, on a ``clear`` ground or white.

    ``plain``: without words and marks. ``parts`` are brought out in colour before the others; none named: all are.
    """

    sights: tuple[str, ...]
    size: Size
    clear: bool = False
    plain: bool = False
    parts: frozenset[str] = frozenset()


def still_sheet(subject: Subject, look: Look) -> Image.Image:
    """One sheet of the first of the subject's places, with scale and axes."""
    cast, page = gathered(subject.figures, look.parts), _Page(look)
    seen = cameras(cast, subject.places, [SIGHTS[name].towards for name in look.sights], page.cells[0].size)
    with rendering(cast.solids) as renderer:
        cast.place(renderer, subject.places, 0)
        return page.drawn(renderer, seen, subject.title, subject.captions[0], cast)


def moving_sheets(subject: Subject, look: Look) -> Iterator[Image.Image]:
    """One sheet for each of the subject's places, all from the same cameras."""
    cast, page = gathered(subject.figures, look.parts), _Page(look)
    seen = cameras(cast, subject.places, [SIGHTS[name].towards for name in look.sights], page.cells[0].size)
    with rendering(cast.solids) as renderer:
        for index, caption in enumerate(subject.captions):
            cast.place(renderer, subject.places, index)
            yield page.drawn(renderer, seen, subject.title, caption)


def turning_sheets(subject: Subject, look: Look, number: int) -> Iterator[Image.Image]:
    """``number`` sheets of the first of the subject's places, once round it."""
    cast, page = gathered(subject.figures, look.parts), _Page(look)
    with rendering(cast.solids) as renderer:
        cast.place(renderer, subject.places, 0)
        for camera in cameras_round(cast, subject.places, turning(number), page.cells[0].size):
            yield page.drawn(renderer, [camera], subject.title, subject.captions[0])


class _Page:
    """Where the views stand on a sheet, and how they are put there."""

    def __init__(self, look: Look) -> None:
        self.look = look
        self.plan: Layout = layout(look.size, with_close_up=False)
        whole = Box(0, 0, *look.size) if look.plain else self.plan.whole
        above = 0 if look.plain else round(1.5 * self.plan.small)
        self.cells = tuple(
            Box(cell.left, cell.top + above, cell.right, cell.bottom) for cell in _grid(whole, len(look.sights))
        )

    def drawn(
        self,
        renderer: Renderer,
        seen: Sequence[Camera],
        title: str,
        caption: str,
        marked: Cast | None = None,
    ) -> Image.Image:
        """The finished sheet; with what helps to read it, such as axes and scale, where its cast is ``marked``."""
        drawing = Drawing(self.look.size, self.plan.unit, self.look.clear)
        for camera, cell in zip(seen, self.cells, strict=True):
            image = view(renderer, camera, cell.size, _GHOST, transparent=self.look.clear)
            drawing.paste(image, cell)
        if self.look.plain:
            return drawing.finished()
        heading(drawing, title, caption, self.plan)
        if marked is not None:
            self._mark(drawing, seen, marked)
        return drawing.finished()

    def _mark(self, drawing: Drawing, seen: Sequence[Camera], cast: Cast) -> None:
        text, pad = self.plan.small, round(8 * self.plan.unit)
        for name, camera, cell in zip(self.look.sights, seen, self.cells, strict=True):
            drawing.text((cell.left + pad, cell.top - round(1.3 * text)), SIGHTS[name].label, text, DARK_GREY)
            if len(seen) == 1:
                axes(drawing, camera, cell, text)
        scale_bar(drawing, seen[-1], self.cells[-1], text)
        if len(cast.brought_out) <= MOST_NAMED:
            legend(drawing, [(paint, name) for name, paint in cast.brought_out], self.plan)


def _grid(whole: Box, number: int) -> tuple[Box, ...]:
    """Equal cells for ``number`` views, row by row, so that views of 4 : 3 become largest and the fewest stay empty."""

    def fit(columns: int) -> tuple[float, int]:
        rows = ceil(number / columns)
        return -min(whole.width / columns / 4, whole.height / rows / 3), columns * rows

    columns = min(range(1, number + 1), key=fit)
    rows = ceil(number / columns)
    width, height = whole.width // columns, whole.height // rows
    corners = [(whole.left + k % columns * width, whole.top + k // columns * height) for k in range(number)]
    return tuple(Box(left, top, left + width, top + height) for left, top in corners)
