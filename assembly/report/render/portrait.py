"""The whole machine from chosen sides on one sheet, standing or moving."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import ceil

from PIL import Image

from assembly.geometry.moving_parts import Figure, Places
from assembly.report.render.camera import Camera, Size
from assembly.report.render.cast import Cast, cameras, cameras_round, gathered
from assembly.report.render.drawing import Box, Drawing
from assembly.report.render.palette import DARK_GREY
from assembly.report.render.renderer import Renderer, rendering
from assembly.report.render.sheet import Layout, axes, heading, layout, legend, scale_bar
from assembly.report.render.sights import SIGHTS, turning
from assembly.report.render.view import view

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
