"""The sheet that holds the views: title, legend, labels, axes, scale. The same for every renderer."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from PIL import Image

from assembly.geometry.mesh import Floats
from assembly.geometry.scene import Role, Scene
from assembly.report.render.camera import Camera, Size
from assembly.report.render.drawing import Box, Drawing, Spot
from assembly.report.render.lettering import shortened, text_width
from assembly.report.render.palette import (
    BLACK,
    DARK_GREY,
    GAP,
    INK,
    MIDDLE_GREY,
    OVERLAP,
    PAINTS,
    SOFT,
    VERDICTS,
    Paint,
)
from assembly.report.render.viewpoint import Focus
from assembly.report.text.words import gap

_AXES = (("x forward", (1.0, 0.0, 0.0)), ("y left", (0.0, 1.0, 0.0)), ("z up", (0.0, 0.0, 1.0)))
_SHORT_GAP = 30
"""Gaps shorter than this many pixels (of 900) get their arrows from outside, as where arrows do not fit inside."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything stands on a sheet of ``size``; the views in pixels from the upper left corner."""

    size: Size
    whole: Box
    close: Box | None
    unit: float
    """One nine-hundredth of the sheet's height as it should look; every width and gap is counted in it."""
    title: int
    text: int
    label: int
    small: int


@dataclass(frozen=True, eq=False)
class Shot:
    """One drawn view, with the camera it was drawn by."""

    image: Image.Image
    camera: Camera


def layout(size: Size, with_close_up: bool) -> Layout:
    """The layout of a sheet of ``size``; without a close-up the whole machine has all the width."""
    width, height = size
    unit = min(height, width * 9 / 16) / 900
    title, text, label, small = (
        max(least, round(share * unit)) for share, least in ((33, 15), (24, 12), (27, 13), (20, 11))
    )
    margin = round(18 * unit)
    top = round(2.5 * margin) + title + text
    bottom = height - 2 * margin - small - round(6 * unit)
    split = round(0.6 * width) if with_close_up else width - margin
    whole = Box(margin, top, split, bottom)
    close = Box(split + margin, top, width - margin, bottom) if with_close_up else None
    return Layout(size, whole, close, unit, title, text, label, small)


def sheet(scene: Scene, about: Focus | None, plan: Layout, whole: Shot, close: Shot | None) -> Image.Image:
    """The finished picture."""
    drawing = Drawing(plan.size, plan.unit)
    drawing.paste(whole.image, plan.whole)
    if close is not None and plan.close is not None:
        drawing.paste(close.image, plan.close)
    _opening(drawing, scene, plan)
    _legend(drawing, scene, plan)
    if about is not None:
        spot, radius = _ringed(drawing, about, plan, whole, close)
        if close is not None and plan.close is not None:
            drawing.frame(plan.close)
            _close_up_marks(drawing, scene, about, plan, close)
        clear = radius + 30 * plan.unit
        drawing.callout(_words(scene, about), spot, plan.whole, plan.label, clear, stop=radius)
    axes(drawing, whole.camera, plan.whole, plan.small)
    return drawing.finished()


def close_up_layout(size: Size) -> Layout:
    """The layout of a sheet that is a close-up and nothing else, its words large enough for a small screen."""
    unit = size[1] / 640
    whole = Box(0, 0, *size)
    label, small = round(36 * unit), round(27 * unit)
    return Layout(size, whole, whole, unit, label, label, label, small)


def close_up_sheet(scene: Scene, about: Focus, plan: Layout, close: Shot) -> Image.Image:
    """The finished close-up."""
    drawing = Drawing(plan.size, plan.unit)
    drawing.paste(close.image, plan.whole)
    _close_up_marks(drawing, scene, about, plan, close)
    return drawing.finished()


def _opening(drawing: Drawing, scene: Scene, plan: Layout) -> None:
    """The verdict and its figures, then what is shown and where; the title first where no verdict is known."""
    if not scene.answer:
        heading(drawing, scene.title, scene.pose_text, plan)
        return
    margin = round(18 * plan.unit)
    word = drawing.boxed(
        (margin, margin - round(0.2 * plan.title)),
        scene.verdict.upper(),
        plan.title,
        VERDICTS[scene.verdict],
        filled=True,
    )
    heading(
        drawing, scene.answer, f"{scene.title}, {scene.pose_text}", plan, indent=word.width + round(0.4 * plan.title)
    )


def heading(drawing: Drawing, title: str, below: str, plan: Layout, indent: int = 0) -> None:
    """The title, ``indent`` pixels from the margin, and a line below it."""
    margin = round(18 * plan.unit)
    room = plan.size[0] - 2 * margin
    drawing.text((margin + indent, margin), shortened(title, plan.title, room - indent), plan.title, INK)
    lower = margin + plan.title + round(0.8 * margin)
    drawing.text((margin, lower), shortened(below, plan.text, room), plan.text, SOFT)


def _legend(drawing: Drawing, scene: Scene, plan: Layout) -> None:
    """Coloured squares with the names of the two parts, in one row under the views."""
    entries: list[tuple[Paint, str]] = []
    for role in (Role.FIRST, Role.SECOND):
        names = dict.fromkeys(solid.name for solid in scene.solids if solid.role == role)
        if names:
            entries.append((PAINTS[role], ", ".join(names)))
    if scene.overlap is not None and len(scene.overlap.faces):
        entries.append((OVERLAP, "overlap: space that both claim"))
    if any(solid.role == Role.QUIET for solid in scene.solids):
        entries.append((PAINTS[Role.QUIET], "other parts"))
    legend(drawing, entries, plan)


def legend(drawing: Drawing, entries: Sequence[tuple[Paint, str]], plan: Layout) -> None:
    """Coloured squares with words, in one row under the views."""
    margin = round(18 * plan.unit)
    side, x = plan.small, margin
    y = plan.size[1] - margin - side
    room = (plan.size[0] - 2 * margin) / max(1, len(entries)) - 3.2 * side
    for paint, name in entries:
        drawing.swatch(Box(x, y, x + side, y + side), paint)
        words = shortened(name, plan.small, room)
        drawing.text((x + round(1.5 * side), y - round(0.12 * side)), words, plan.small, BLACK)
        x += round(3.2 * side + text_width(words, plan.small))


def _words(scene: Scene, about: Focus, *, close: bool = False) -> str:
    """What the label beside the gap or the overlap says in the whole machine or the ``close``-up."""
    if scene.labels is not None:
        return scene.labels[close]
    if not about.is_gap:
        return scene.overlap_label or "overlap"
    return "gap" if scene.gap_mm is None else f"{gap(scene.gap_mm)} mm"


def _spots(shot: Shot, box: Box, points: Floats) -> Floats:
    """Where ``points`` (n, 3) mm stand on the sheet, (n, 2) px."""
    return shot.camera.pixels(points, box.size)[:, :2] + (box.left, box.top)


def _ringed(drawing: Drawing, about: Focus, plan: Layout, whole: Shot, close: Shot | None) -> tuple[Spot, float]:
    """Ring the place in the whole machine that the close-up shows; gives the ring's middle and radius."""
    x, y = _spots(whole, plan.whole, about.middle[None])[0]
    shown = close.camera.height if close is not None else about.extent
    radius = float(np.clip(shown / 2 / whole.camera.height * plan.whole.height, 15 * plan.unit, 60 * plan.unit))
    if plan.close is not None:
        for side, corner in ((-1, plan.close.top), (1, plan.close.bottom)):
            drawing.line((x, y + side * radius), (plan.close.left, corner), 1.2, MIDDLE_GREY)
    drawing.ring((x, y), radius, 2.5, BLACK)
    if about.is_gap:
        drawing.dot((x, y), 4, GAP)
    return (float(x), float(y)), radius


def _close_up_marks(drawing: Drawing, scene: Scene, about: Focus, plan: Layout, close: Shot) -> None:
    """Gap line or overlap label, scale, axes and the caption of the close-up."""
    box = plan.close
    if box is None:
        return
    cut = np.isfinite(close.camera.near)
    kind = "contact" if scene.labels is not None else "gap" if about.is_gap else "overlap"
    caption = f"close-up, cut open through the {kind}" if cut else f"close-up, square to the {kind}"
    pad = round(10 * plan.unit)
    drawing.boxed(
        (box.left + pad, box.top + pad), shortened(caption, plan.small, box.width - 3 * pad), plan.small, DARK_GREY
    )
    scale_bar(drawing, close.camera, box, plan.small)
    axes(drawing, close.camera, box, plan.small)
    middle = _spots(close, box, about.middle[None])[0]
    spot = (float(middle[0]), float(middle[1]))
    outline = _spots(close, box, about.outline)
    clear = 40 * plan.unit + 0.5 * float(np.ptp(outline, axis=0).max())
    if about.is_gap and scene.labels is None:
        ends = _gap_ends(outline, plan.unit)
        drawing.keep_free(*ends, room=14 * plan.unit)
        way = np.subtract(ends[-1], ends[0]) / np.linalg.norm(np.subtract(ends[-1], ends[0]))
        drawing.callout(_words(scene, about, close=True), spot, box, plan.label, clear, 8 * plan.unit, (way[0], way[1]))
        _gap_line(drawing, ends)
        return
    low, high = outline.min(axis=0), outline.max(axis=0)
    if max(high - low) < 0.5 * box.width:
        drawing.keep_free((low[0], spot[1]), (high[0], spot[1]), room=(high - low)[1] / 2)
    drawing.callout(_words(scene, about, close=True), spot, box, plan.label, clear)
    drawing.dot(spot, 5 if scene.labels is not None else 3, BLACK)


def _gap_ends(outline: Floats, unit: float) -> list[Spot]:
    """The nearest points on the sheet; before and after them, for a short gap, the tails of its arrows."""
    length = float(np.linalg.norm(outline[1] - outline[0]))
    way = (outline[1] - outline[0]) / length if length > 1e-6 else np.array([0.0, 1.0])
    spots = [outline[0], outline[1]]
    if length < _SHORT_GAP * unit:
        spots = [outline[0] - 55 * unit * way, *spots, outline[1] + 55 * unit * way]
    return [(float(spot[0]), float(spot[1])) for spot in spots]


def _gap_line(drawing: Drawing, ends: list[Spot]) -> None:
    """The nearest points and the line between them; arrows from outside where the line is short."""
    if len(ends) == 2:
        drawing.line(ends[0], ends[1], 5, GAP, halo=True)
        for end in ends:
            drawing.dot(end, 6.5, GAP)
        return
    drawing.line(ends[1], ends[2], 3, GAP)
    drawing.dot(ends[1], 2, GAP)
    drawing.arrow(ends[0], ends[1], 3, GAP, halo=True)
    drawing.arrow(ends[3], ends[2], 3, GAP, halo=True)


def scale_bar(drawing: Drawing, camera: Camera, box: Box, text: int) -> None:
    """A bar of a round length, in the lower right corner of ``box``."""
    per_mm = box.height / camera.height
    wanted = 0.28 * box.width / per_mm
    power = 10.0 ** np.floor(np.log10(wanted))
    length = float(max(step * power for step in (1, 2, 5) if step * power <= wanted))
    drawing.scale_bar(box, length * per_mm, f"{length:g} mm", text)


def axes(drawing: Drawing, camera: Camera, box: Box, text: int) -> None:
    """The three axes as they lie in the view, with words."""
    arms = []
    for words, axis in _AXES:
        direction = np.array(axis)
        way = (float(direction @ camera.right), -float(direction @ camera.up))
        arms.append((words, way, float(direction @ camera.towards) < 0))
    drawing.triad(box, arms, text)
