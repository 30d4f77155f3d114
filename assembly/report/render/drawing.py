"""Ink on a sheet: smooth lines, text, and labels that look for an empty place. The only part that draws with Pillow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from PIL import Image, ImageDraw

from assembly.report.render.camera import Size
from assembly.report.render.lettering import draw_text, shortened, text_width
from assembly.report.render.palette import BLACK, DARK_GREY, WHITE, Colour, Paint

Spot = tuple[float, float]
_STANDING = 0.3
"""An axis shorter than this, in heights of its words, stands on the sheet."""
_SMOOTH_UP_TO = 5_000_000
"""Sheets of more pixels are drawn without smoothing: their pixels are fine enough."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle of the sheet in pixels; right and bottom are just outside it."""

    left: int
    top: int
    right: int
    bottom: int

    @property
    def width(self) -> int:
        """Pixels across."""
        return self.right - self.left

    @property
    def height(self) -> int:
        """Pixels down."""
        return self.bottom - self.top

    @property
    def size(self) -> Size:
        """Width and height."""
        return self.width, self.height

    def meets(self, other: Box) -> bool:
        """Whether the two share a pixel."""
        across = self.left < other.right and other.left < self.right
        return across and self.top < other.bottom and other.top < self.bottom


class Drawing:
    """A sheet, white or ``clear``. Lines are laid on in a finer layer of their own; text comes on top at the end."""

    def __init__(self, size: Size, unit: float, clear: bool = False) -> None:
        self._sheet = Image.new("RGBA", size, (*WHITE, 0)) if clear else Image.new("RGB", size, WHITE)
        self._unit = unit
        self._fine = 2 if size[0] * size[1] <= _SMOOTH_UP_TO else 1
        self._ink = Image.new("RGBA", (size[0] * self._fine, size[1] * self._fine), (*WHITE, 0))
        self._pen = ImageDraw.Draw(self._ink)
        self._texts: list[tuple[Spot, str, int, Colour, Colour, Box | None]] = []
        self._taken: list[Box] = []

    def finished(self) -> Image.Image:
        """The sheet with all its ink."""
        if self._fine > 1:
            self._ink = self._ink.resize(self._sheet.size, Image.Resampling.BOX)
        if self._sheet.mode == "RGBA":
            self._sheet.alpha_composite(self._ink)
        else:
            self._sheet.paste(self._ink, (0, 0), self._ink)
        pen = ImageDraw.Draw(self._sheet)
        for spot, words, size, colour, ground, around in self._texts:
            if around is not None:
                corners = (around.left, around.top, around.right, around.bottom)
                pen.rounded_rectangle(corners, round(5 * self._unit), ground, colour, max(1, round(1.5 * self._unit)))
            seam = 0 if around is not None else max(1, round(2 * self._unit))
            ink = colour if ground == WHITE else WHITE
            draw_text(pen, spot, words, size, ink, seam, WHITE)
        return self._sheet

    def paste(self, image: Image.Image, box: Box) -> None:
        """Put a view into its place."""
        self._sheet.paste(image, (box.left, box.top))

    def text(self, spot: Spot, words: str, size: int, colour: Colour) -> None:
        """One line of text, ``spot`` at its upper left."""
        self._texts.append((spot, words, size, colour, WHITE, None))

    def boxed(self, spot: Spot, words: str, size: int, colour: Colour, filled: bool = False) -> Box:
        """One line of text on white within a thin border, ``spot`` at the border's upper left; gives the border.

        ``filled``: in white on the colour.
        """
        box = self._text_box(words, size)
        x, y = round(spot[0]), round(spot[1])
        pad = round(0.4 * size)
        around = Box(x, y, x + box[0], y + box[1])
        self._texts.append(((x + pad, y + round(0.2 * size)), words, size, colour, colour if filled else WHITE, around))
        self._taken.append(around)
        return around

    def line(self, one: Spot, other: Spot, width: float, colour: Colour, halo: bool = False) -> None:
        """A straight line ``width`` units wide, with a white seam where it must stand out from what it crosses."""
        if halo:
            self._pen.line(self._points(one, other), WHITE, self._width(width + 4))
        self._pen.line(self._points(one, other), colour, self._width(width))

    def dot(self, spot: Spot, radius: float, colour: Colour) -> None:
        """A filled circle, ``radius`` units, with a white seam."""
        for grown, ink in ((2.0, WHITE), (0.0, colour)):
            self._pen.ellipse(self._round(spot, self._width(radius + grown)), ink)

    def ring(self, spot: Spot, radius: float, width: float, colour: Colour) -> None:
        """A circle of ``radius`` pixels with a white seam on both sides."""
        for grown, ink in ((2.0, WHITE), (0.0, colour)):
            reach = radius * self._fine + self._width(grown)
            self._pen.ellipse(self._round(spot, reach), None, ink, self._width(width + 2 * grown))

    def arrow(self, tail: Spot, tip: Spot, width: float, colour: Colour, halo: bool = False) -> None:
        """A line that ends in a slim filled head at ``tip``."""
        way = np.subtract(tip, tail)
        length = float(np.linalg.norm(way))
        if length < 1e-6:
            return
        way = way / length
        head = min(5.0 * width * self._unit, length)
        aside = np.array([-way[1], way[0]]) * 0.34 * head
        foot = np.asarray(tip) - head * way
        self.line(tail, (float(foot[0]), float(foot[1])), width, colour, halo)
        outline = [tuple(point * self._fine) for point in (np.asarray(tip), foot + aside, foot - aside)]
        if halo:
            self._pen.line([*outline, outline[0]], WHITE, self._width(4))
        self._pen.polygon(outline, colour)

    def frame(self, box: Box) -> None:
        """A thin border round a view."""
        corners = self._points((box.left, box.top), (box.right - 1, box.bottom - 1))
        self._pen.rectangle(corners, None, DARK_GREY, self._width(1.8))

    def swatch(self, box: Box, paint: Paint) -> None:
        """A square of the legend."""
        corners = self._points((box.left, box.top), (box.right, box.bottom))
        self._pen.rectangle(corners, paint.fill, paint.line, self._width(1.5))

    def scale_bar(self, box: Box, length: float, words: str, size: int) -> None:
        """A bar ``length`` pixels long with its words above it, in the lower right corner of ``box``."""
        pad = 14 * self._unit
        wide, high = self._text_box(words, size)
        right, below = box.right - pad, box.bottom - pad
        spot = (right - max(length / 2 + wide / 2, wide), below - high - 1.2 * pad)
        self.boxed(spot, words, size, DARK_GREY)
        self.line((right - length, below), (right, below), 4, DARK_GREY, halo=True)
        for x in (right - length, right):
            self.line((x, below - 6 * self._unit), (x, below + 6 * self._unit), 3, DARK_GREY, halo=True)

    def callout(
        self,
        words: str,
        anchor: Spot,
        box: Box,
        size: int,
        clear: float,
        stop: float = 0.0,
        along: Spot = (0.0, 0.0),
    ) -> None:
        """A label at least ``clear`` pixels from ``anchor`` in the emptiest place of ``box``.

        Its line ends ``stop`` pixels before the anchor and keeps away from the direction ``along``.
        """
        words = shortened(words, size, 0.8 * box.width)
        wide, high = self._text_box(words, size)
        best, spot = np.inf, (float(box.left), float(box.top))
        for step in range(6):
            for turn in np.arange(16) * np.pi / 8 - np.pi / 4:
                away = clear * (1 + 0.6 * step)
                x = anchor[0] + np.cos(turn) * (away + wide / 2) - wide / 2
                y = anchor[1] + np.sin(turn) * (away + high / 2) - high / 2
                place = Box(round(x), round(y), round(x) + wide, round(y) + high)
                cost = self._ink_under(place, box) + 6 * step
                cost += 60 * abs(np.cos(turn) * along[0] + np.sin(turn) * along[1])
                if cost < best:
                    best, spot = cost, (place.left, place.top)
        around = self.boxed(spot, words, size, BLACK)
        end = np.clip(anchor, (around.left, around.top), (around.right, around.bottom))
        way = end - np.asarray(anchor)
        start = np.asarray(anchor) + way * min(1.0, stop / max(float(np.linalg.norm(way)), 1e-6))
        self.line((float(start[0]), float(start[1])), (float(end[0]), float(end[1])), 1.6, BLACK, halo=True)

    def keep_free(self, *spots: Spot, room: float) -> None:
        """Let no label cover the line through ``spots``, nor come nearer than ``room`` pixels."""
        for one, other in pairwise(spots):
            for share in np.linspace(0, 1, 12):
                x, y = (1 - share) * np.asarray(one) + share * np.asarray(other)
                self._taken.append(Box(round(x - room), round(y - room), round(x + room), round(y + room)))

    def triad(self, box: Box, axes: Sequence[tuple[str, Spot, bool]], size: int) -> None:
        """Arrows from one point with words at their ends, in the emptiest corner of ``box``.

        ``axes`` hold the words, the way to the right and down (length ≤ 1), and whether the axis comes
        towards the viewer; one that stands on the sheet is a ring, with a dot coming, with a cross going.
        """
        tips = [(words, (2.8 * size * way[0], 2.8 * size * way[1]), comes) for words, way, comes in axes]
        places = _beside(tips, size)
        left = round(min(place.left for place in places) - 0.3 * size)
        top = round(min(place.top for place in places) - 0.3 * size)
        wide = round(max(place.right for place in places) + 0.3 * size) - left
        high = round(max(place.bottom for place in places) + 0.3 * size) - top
        pad = round(8 * self._unit)
        corners = [
            Box(x, y, x + wide, y + high)
            for y in (box.bottom - high - pad, box.top + pad)
            for x in (box.left + pad, box.right - wide - pad)
        ]
        corner = min(corners, key=lambda place: self._ink_under(place, box))
        self._taken.append(corner)
        x, y = corner.left - left, corner.top - top
        for (words, tip, comes), place in sorted(
            zip(tips, places, strict=True), key=lambda drawn: -np.hypot(*drawn[0][1])
        ):
            self._axis((x, y), (x + tip[0], y + tip[1]), comes, size)
            self.text((x + place.left, y + place.top), words, size, DARK_GREY)

    def _axis(self, origin: Spot, tip: Spot, comes: bool, size: int) -> None:
        if np.hypot(tip[0] - origin[0], tip[1] - origin[1]) > _STANDING * size:
            self.arrow(origin, tip, 2, DARK_GREY, halo=True)
            return
        reach = 0.32 * size
        self.ring(origin, reach, 2, DARK_GREY)
        if comes:
            self.dot(origin, 2.5, DARK_GREY)
            return
        side = 0.7 * reach
        for rise in (-side, side):
            self.line((origin[0] - side, origin[1] - rise), (origin[0] + side, origin[1] + rise), 1.6, DARK_GREY)

    def emptiest(self, places: Sequence[Box]) -> int:
        """Which of ``places`` has the least ink under it; of those alike the last."""
        return min(range(len(places)), key=lambda index: (self._ink_under(places[index], places[index]), -index))

    def _ink_under(self, place: Box, box: Box) -> float:
        """How dark (0 to 255) the sheet is under ``place``; prohibitive outside ``box`` or over another label."""
        outside = place.left < box.left or place.top < box.top or place.right > box.right or place.bottom > box.bottom
        taken = any(place.meets(other) for other in self._taken)
        if outside or taken:
            return 1000.0 * (1 + outside)
        grey = np.asarray(self._sheet.crop((place.left, place.top, place.right, place.bottom)).convert("L"))
        return float(255 - grey.mean())

    def _text_box(self, words: str, size: int) -> tuple[int, int]:
        return round(text_width(words, size) + 0.8 * size), round(1.6 * size)

    def _round(self, spot: Spot, radius: float) -> list[Spot]:
        x, y = self._points(spot)[0]
        return [(x - radius, y - radius), (x + radius, y + radius)]

    def _points(self, *spots: Spot) -> list[Spot]:
        return [(float(x) * self._fine, float(y) * self._fine) for x, y in spots]

    def _width(self, units: float) -> int:
        return max(1, round(units * self._unit * self._fine))


def _beside(tips: Sequence[tuple[str, Spot, bool]], size: int) -> list[Box]:
    """Places for the words at the ends of arrows from (0, 0), clear of the arrows and of each other."""
    taken = [
        Box(round(share * x) - 3, round(share * y) - 3, round(share * x) + 3, round(share * y) + 3)
        for _, (x, y), _ in tips
        for share in np.linspace(0.0, 1.0, 9)
    ]
    places = []
    for words, (x, y), _ in tips:
        wide, high, length = text_width(words, size), 1.1 * size, float(np.hypot(x, y))
        ways = [(0.0, 1.0), (1.0, 0.6), (-1.0, 0.6), (1.0, -0.6), (-1.0, -0.6), (0.0, -1.0)]
        if length > _STANDING * size:
            ways.insert(0, (x / length, y / length))
        tries = []
        for reach in (0.5 * size, 1.2 * size, 2.4 * size):
            for way in ways:
                left = x + way[0] * (reach + wide / 2) - wide / 2
                top = y + way[1] * (reach + high / 2) - high / 2
                tries.append(Box(round(left), round(top), round(left + wide), round(top + high)))
        place = next((spot for spot in tries if not any(spot.meets(other) for other in taken)), tries[0])
        taken.append(place)
        places.append(place)
    return places
