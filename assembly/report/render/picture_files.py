"""Pictures and films of a machine as the bytes of their files; the only door to av.

A film is an animated GIF that runs for ever, or an MP4 in H.264, which every player and browser shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from importlib.util import find_spec
from io import BytesIO

import numpy as np
from PIL import Image

from assembly.errors import Fault, InputError
from assembly.progress import Progress
from assembly.report.render.optional_picture import PICTURE_S
from assembly.report.render.palette import WHITE
from assembly.report.render.pictures import check_size, drawing_or_told
from assembly.report.render.portrait import Look, Subject, moving_sheets, still_sheet, turning_sheets
from assembly.time_limit import check_time

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


INSTALL = "pip install av, or name a file that ends in .gif"
QUALITY = "20"
"""Constant rate factor of the encoder: lower is better and larger, 18 to 23 look clean."""


def mp4_trouble(size: tuple[int, int]) -> tuple[str, str]:
    """Why no film of ``size`` can be made here, and what helps; empty if it can."""
    if find_spec("av") is None:
        return "MP4 needs the library av, which is not installed", INSTALL
    if size[0] % 2 or size[1] % 2:
        even = " × ".join(str(side - side % 2) for side in size)
        return f"an MP4 cannot be {size[0]} × {size[1]} pixels large", f"both must be even, such as {even}"
    return "", ""


def mp4_bytes(frames: Iterable[Image.Image], rate: int) -> bytes:
    """``frames``, so many a second."""
    import av

    data = BytesIO()
    with av.open(data, "w", format="mp4") as film:
        stream = None
        for frame in frames:
            if stream is None:
                stream = film.add_stream("libx264", rate=rate, options={"crf": QUALITY})
                stream.width, stream.height, stream.pix_fmt = *frame.size, "yuv420p"
            film.mux(stream.encode(av.VideoFrame.from_ndarray(np.asarray(frame.convert("RGB")), format="rgb24")))
        if stream is not None:
            film.mux(stream.encode(None))
    return data.getvalue()


STILL_ENDINGS = (".png",)
HUNDREDTHS, RATE = 8, 25
"""How long a frame of a GIF is shown (browsers slow down what is shorter than 2), and frames a second of an MP4."""
FILM_RATES = {".gif": 100 / HUNDREDTHS, ".mp4": float(RATE)}
"""Frames a second by the ending of the file."""
LARGEST_FILM = 2048
"""Pixels a side: players of H.264 need not show more."""


def check_film(size: tuple[int, int], ending: str) -> None:
    """InputError if no film of ``size`` can be written into a file of that ending."""
    check_size(size, LARGEST_FILM)
    trouble, hint = mp4_trouble(size) if ending == ".mp4" else ("", "")
    if trouble:
        raise InputError(Fault(trouble, hint=hint))


def still_picture(subject: Subject, look: Look) -> bytes:
    """One PNG. PictureError if nothing can draw, TimeLimitError if too little time is left to begin."""
    check_time(PICTURE_S)
    with drawing_or_told():
        data = BytesIO()
        still_sheet(subject, look).save(data, "PNG")
        return data.getvalue()


def run_film(subject: Subject, look: Look, ending: str, progress: Progress) -> bytes:
    """A film of all places of the subject. PictureError if nothing can draw, TimeLimitError."""
    return _film(moving_sheets(subject, look), len(subject.captions), ending, progress)


def turn_film(subject: Subject, look: Look, ending: str, number: int, progress: Progress) -> bytes:
    """A film once round the subject in ``number`` frames. PictureError if nothing can draw, TimeLimitError."""
    return _film(turning_sheets(subject, look, number), number, ending, progress)


def _film(frames: Iterator[Image.Image], number: int, ending: str, progress: Progress) -> bytes:
    def counted() -> Iterator[Image.Image]:
        for done, frame in enumerate(frames, 1):
            progress("draw", done, number)
            yield frame
            check_time()

    progress("draw", 0, 0)
    with drawing_or_told():
        return mp4_bytes(counted(), RATE) if ending == ".mp4" else gif_bytes(counted(), HUNDREDTHS)
