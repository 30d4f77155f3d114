"""A part with the patch that goes from it, in steps of depth with their scale: the whole part and a close-up."""

from __future__ import annotations

from io import BytesIO
from math import ceil

import numpy as np
from PIL import Image

from assembly.geometry.mesh import Floats, Mesh
from assembly.geometry.rotations import unit
from assembly.geometry.scene import DepthScene, Role
from assembly.report.render.camera import Size, looking, looking_at_all
from assembly.report.render.drawing import Box, Drawing
from assembly.report.render.lettering import text_width
from assembly.report.render.palette import BLACK, DARK_GREY, PAINTS, VERMILION, YELLOW, Colour, Paint
from assembly.report.render.pictures import drawing_or_told
from assembly.report.render.renderer import rendering
from assembly.report.render.sheet import Layout, axes, heading, layout, scale_bar
from assembly.report.render.stage import Layer, StageSolid
from assembly.report.render.view import view
from assembly.report.text.words import short

MOST_STEPS = 6
STEPS = (0.1, 0.2, 0.5, 1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0)
"""mm: depths are shown in steps of one of these."""
ROUNDED = 0.005
"""mm by which a depth may lie beyond a step and count to it: that of a whole wall is a round number."""
DARKEST: Colour = (70, 10, 50)
LIFTED = 0.05
"""mm by which the patch stands out from what stays, so that it is seen."""
ASIDE = 0.55
"""How far aside of square to the patch the part is looked at, as the tangent of the angle."""
AROUND = 1.7
"""Height of the close-up as a multiple of the patch."""
RINGED = 0.2
"""Share of the view's height up to which a patch is so small that it is ringed."""
SIZE = (1600, 900)


def depth_picture(scene: DepthScene, size: Size = SIZE) -> bytes:
    """One PNG. PictureError if nothing can draw."""
    with drawing_or_told():
        data = BytesIO()
        _sheet(scene, size).save(data, "PNG")
        return data.getvalue()


def depth_steps(deepest: float) -> tuple[float, ...]:
    """The ends (mm) of the steps in which depths up to ``deepest`` are shown, round numbers."""
    step = next((one for one in STEPS if deepest - ROUNDED <= MOST_STEPS * one), STEPS[-1])
    return tuple(round(step * (number + 1), 6) for number in range(max(1, ceil((deepest - ROUNDED) / step))))


def _sheet(scene: DepthScene, size: Size) -> Image.Image:
    plan = layout(size, with_close_up=True)
    close_box = plan.close or plan.whole
    steps = depth_steps(float(scene.depths.max(initial=0.0)))
    paints = [_paint(number, len(steps)) for number in range(len(steps))]
    solids = [StageSolid(Layer.REST, scene.kept, PAINTS[Role.QUIET]), *_bands(scene, steps, paints)]
    sight = _sight(scene.outwards)
    whole = looking_at_all(scene.kept.vertices, sight, plan.whole.size)
    close = looking(sight, scene.at, AROUND * max(scene.extent, 2.0))
    drawing = Drawing(plan.size, plan.unit)
    with rendering(solids) as renderer:
        for camera, box in ((whole, plan.whole), (close, close_box)):
            drawing.paste(view(renderer, camera, box.size, 1.0), box)
    radius = 0.7 * scene.extent / whole.height * plan.whole.height
    if radius < RINGED * plan.whole.height:
        x, y = whole.pixels(scene.at[None], plan.whole.size)[0, :2] + (plan.whole.left, plan.whole.top)
        drawing.ring((float(x), float(y)), max(15 * plan.unit, radius), 2.5, BLACK)
    drawing.frame(close_box)
    heading(drawing, scene.title, scene.caption, plan)
    scale_bar(drawing, close, close_box, plan.small)
    axes(drawing, whole, plan.whole, plan.small)
    _scale(drawing, plan, steps, paints)
    return drawing.finished()


def _sight(outwards: Floats) -> Floats:
    """Along which a viewer looks who stands before a face, a little aside and above."""
    aside = np.cross(outwards, np.eye(3)[int(np.argmin(np.abs(outwards)))])
    away = unit(outwards) + ASIDE * (0.6 * unit(aside) + 0.8 * np.cross(unit(aside), unit(outwards)))
    return -np.asarray(unit(away))


def _bands(scene: DepthScene, steps: tuple[float, ...], paints: list[Paint]) -> list[StageSolid]:
    """The patch as one surface for each step of depth."""
    across = np.cross(scene.triangles[:, 1] - scene.triangles[:, 0], scene.triangles[:, 2] - scene.triangles[:, 0])
    normals = across / np.maximum(np.linalg.norm(across, axis=1), 1e-300)[:, None]
    lifted = scene.triangles + LIFTED * normals[:, None]
    band = np.minimum(np.searchsorted(steps, scene.depths - ROUNDED), len(steps) - 1)
    made = []
    for number, paint in enumerate(paints):
        corners, faces = np.unique(lifted[band == number].reshape(-1, 3).round(6), axis=0, return_inverse=True)
        if len(corners):
            made.append(StageSolid(Layer.FIRST, Mesh(corners, faces.reshape(-1, 3)), paint))
    return made


def _paint(number: int, count: int) -> Paint:
    """From yellow by way of vermilion to the darkest: light to dark for any kind of colour sight."""
    share = 2 * number / max(1, count - 1)
    first, second = (YELLOW, VERMILION) if share <= 1 else (VERMILION, DARKEST)
    part = share if share <= 1 else share - 1
    red, green, blue = (round(a + part * (b - a)) for a, b in zip(first, second, strict=True))
    return Paint((red, green, blue), (red, green, blue), 0, 0.85)


def _scale(drawing: Drawing, plan: Layout, steps: tuple[float, ...], paints: list[Paint]) -> None:
    """Squares in the colours of the steps, each with its depths, in one row under the views."""
    margin, side = round(18 * plan.unit), plan.small
    x, y = margin, plan.size[1] - margin - side
    drawing.text((x, y - round(0.12 * side)), "depth, mm:", plan.small, DARK_GREY)
    x += round(text_width("depth, mm:", plan.small)) + side
    low = 0.0
    for high, paint in zip(steps, paints, strict=True):
        words = f"{short(low)} to {short(high)}"
        drawing.swatch(Box(x, y, x + side, y + side), paint)
        drawing.text((x + round(1.4 * side), y - round(0.12 * side)), words, plan.small, BLACK)
        x += round(2.6 * side + text_width(words, plan.small))
        low = high
