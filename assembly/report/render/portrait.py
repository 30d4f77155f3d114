"""The whole machine from chosen sides on one sheet, standing or moving."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
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
    if len(brought_out) == 2:  # a pair has the colours that it has in every other picture
        order = [figure.name for figure in figures if figure.name in brought_out]
        named_paints = dict(zip(order, (PAINTS[Role.FIRST], PAINTS[Role.SECOND]), strict=True))
        paints = [named_paints.get(figure.name, paint) for figure, paint in zip(figures, paints, strict=True)]
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


def cameras(
    cast: Cast, places: Places, sights: Sequence[Floats], whole: Box, above: int
) -> tuple[list[Camera], list[Box]]:
    """One camera and its cell of ``whole`` for each sight, all in one scale, with all that is ever there in sight.

    Each row of cells has ``above`` pixels over it for words.
    """
    points = [_outermost(cast, places, sight) for sight in sights]
    fitted = [
        (looking_at_all(seen, sight, (10**6, 1)), looking_at_all(seen, sight, (1, 10**6)))
        for seen, sight in zip(points, sights, strict=True)
    ]
    sizes = [(across.height / 10**6, up.height) for up, across in fitted]
    cells, scale = shared_out(whole, sizes, above)
    return [replace(up, height=cell.height / scale) for (up, _), cell in zip(fitted, cells, strict=True)], cells


def shared_out(whole: Box, sizes: Sequence[tuple[float, float]], above: int) -> tuple[list[Box], float]:
    """A cell of ``whole`` for each view of ``sizes`` (mm across, mm up), row by row, and pixels for each mm.

    So many columns that the views become largest; columns and rows are as wide and high as what stands in them, and
    what is over is shared out evenly.
    """
    best: tuple[float, list[float], list[float]] = (0.0, [], [])
    for count in range(1, len(sizes) + 1):
        rows = ceil(len(sizes) / count)
        across = [max(size[0] for size in sizes[column::count]) for column in range(count)]
        up = [max(size[1] for size in sizes[row * count : (row + 1) * count]) for row in range(rows)]
        scale = min(whole.width / sum(across), (whole.height - rows * above) / sum(up))
        best = max(best, (scale, across, up), key=lambda one: one[0])
    scale, across, up = best
    lefts = _ends(whole.left, whole.width, [scale * one for one in across], 0)
    tops = _ends(whole.top, whole.height, [scale * one for one in up], above)
    places = [(number % len(across), number // len(across)) for number in range(len(sizes))]
    return [Box(lefts[column][0], tops[row][0], lefts[column][1], tops[row][1]) for column, row in places], scale


def _ends(start: int, length: int, needed: Sequence[float], above: int) -> list[tuple[int, int]]:
    """Where each of a row of cells begins and ends, with what is over shared out evenly."""
    spare = (length - sum(needed)) / len(needed)
    edges = [start + round(sum(needed[:index]) + index * spare) for index in range(len(needed) + 1)]
    return [(low + above, high) for low, high in pairwise(edges)]


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
    seen = page.looking(cast, subject.places)
    with rendering(cast.solids) as renderer:
        cast.place(renderer, subject.places, 0)
        return page.drawn(renderer, seen, subject.title, subject.captions[0], cast)


def moving_sheets(subject: Subject, look: Look) -> Iterator[Image.Image]:
    """One sheet for each of the subject's places, all from the same cameras."""
    cast, page = gathered(subject.figures, look.parts), _Page(look)
    seen = page.looking(cast, subject.places)
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
        self.whole = Box(0, 0, *look.size) if look.plain else self.plan.whole
        self.above = 0 if look.plain else round(1.5 * self.plan.small)
        self.cells = [Box(self.whole.left, self.whole.top + self.above, self.whole.right, self.whole.bottom)]

    def looking(self, cast: Cast, places: Places) -> list[Camera]:
        """A camera for each sight; the page's cells are shared out so that they fill it."""
        sights = [SIGHTS[name].towards for name in self.look.sights]
        seen, self.cells = cameras(cast, places, sights, self.whole, self.above)
        return seen

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
        corners = [
            Box(max(cell.left, cell.right - 14 * text), cell.bottom - 4 * text, cell.right, cell.bottom)
            for cell in self.cells
        ]
        chosen = drawing.emptiest(corners)
        scale_bar(drawing, seen[chosen], self.cells[chosen], text)
        if len(cast.brought_out) <= MOST_NAMED:
            legend(drawing, [(paint, name) for name, paint in cast.brought_out], self.plan)
