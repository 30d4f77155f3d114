"""Frames as an animated GIF that runs for ever."""

from __future__ import annotations

from collections.abc import Iterable
from io import BytesIO

import numpy as np
from PIL import Image

from assembly.report.render.palette import WHITE

COLOURS = 255
SAMPLED = 6
"""Frames from which the colours are taken: the same for all, else flat faces flicker."""


def gif_bytes(frames: Iterable[Image.Image], hundredths: int) -> bytes:
    """``frames``, each shown for so many ``hundredths`` of a second."""
    every = [frame.convert("RGB") for frame in frames]
    colours = _palette(every[:: max(1, len(every) // SAMPLED)])
    drawn = [_indexed(frame, colours) for frame in every]
    data = BytesIO()
    drawn[0].save(data, "GIF", save_all=True, append_images=drawn[1:], duration=10 * hundredths, loop=0)
    return data.getvalue()


def _indexed(frame: Image.Image, colours: Image.Image) -> Image.Image:
    """``frame`` in these colours. The library looks for the nearest in steps of four, which would grey the white."""
    image = frame.quantize(palette=colours, dither=Image.Dither.NONE)
    number = np.array(image)
    number[(np.asarray(frame) == 255).all(axis=2)] = 0
    indexed = Image.fromarray(number).convert("P")
    indexed.putpalette(image.getpalette() or [])
    return indexed


def _palette(frames: list[Image.Image]) -> Image.Image:
    """Pure white, and 255 colours that serve all of ``frames``."""
    width, height = frames[0].size
    strip = Image.new("RGB", (width, height * len(frames)))
    for number, frame in enumerate(frames):
        strip.paste(frame, (0, number * height))
    found = strip.quantize(COLOURS, Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE).getpalette() or []
    palette = Image.new("P", (1, 1))
    palette.putpalette([*WHITE, *found[: 3 * COLOURS]])
    return palette
