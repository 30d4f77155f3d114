"""Pictures and films of a machine as the bytes of their files, drawn by whatever renderer works."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from io import BytesIO

from PIL import Image

from assembly.errors import Fault, InputError
from assembly.report.render.gif import gif_bytes
from assembly.report.render.mp4 import mp4_bytes, mp4_trouble
from assembly.report.render.pictures import RendererName, by_any_renderer, check_size, opened_renderer
from assembly.report.render.portrait import Look, Opener, Subject, moving, standing, turned

Progress = Callable[[str, int, int], None]

STILL_ENDINGS = (".png",)
HUNDREDTHS, RATE = 8, 25
"""How long a frame of a GIF is shown (browsers slow down what is shorter than 2), and frames a second of an MP4."""
FILM_RATES = {".gif": 100 / HUNDREDTHS, ".mp4": float(RATE)}
"""Frames a second by the ending of the file."""
LARGEST_FILM = 2048
"""Pixels a side: players of H.264 need not show more."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """The bytes of a file; ``note`` says why the renderer is not the first choice."""

    data: bytes
    note: str


def check_film(size: tuple[int, int], ending: str) -> None:
    """InputError where no film of ``size`` can be written into a file of that ending."""
    check_size(size, LARGEST_FILM)
    trouble, hint = mp4_trouble(size) if ending == ".mp4" else ("", "")
    if trouble:
        raise InputError(Fault(trouble, hint=hint))


def picture(subject: Subject, look: Look, renderer: RendererName = "auto") -> Drawn:
    """One PNG. PictureError where nothing can draw."""

    def made(name: str) -> bytes:
        data = BytesIO()
        standing(subject, look, partial(opened_renderer, name)).save(data, "PNG")
        return data.getvalue()

    data, _, note = by_any_renderer(made, renderer)
    return Drawn(data, note)


def run_film(subject: Subject, look: Look, ending: str, progress: Progress, renderer: RendererName = "auto") -> Drawn:
    """A film of all places of the subject. PictureError where nothing can draw."""
    return _film(lambda opener: moving(subject, look, opener), len(subject.captions), ending, progress, renderer)


def turn_film(
    subject: Subject, look: Look, ending: str, number: int, progress: Progress, renderer: RendererName = "auto"
) -> Drawn:
    """A film once round the subject in ``number`` frames. PictureError where nothing can draw."""
    return _film(lambda opener: turned(subject, look, opener, number), number, ending, progress, renderer)


def _film(
    frames: Callable[[Opener], Iterator[Image.Image]],
    number: int,
    ending: str,
    progress: Progress,
    renderer: RendererName,
) -> Drawn:
    def counted(name: str) -> Iterator[Image.Image]:
        for done, frame in enumerate(frames(partial(opened_renderer, name)), 1):
            progress("draw", done, number)
            yield frame

    def made(name: str) -> bytes:
        drawn = counted(name)
        return mp4_bytes(drawn, RATE) if ending == ".mp4" else gif_bytes(drawn, HUNDREDTHS)

    progress("draw", 0, 0)
    data, _, note = by_any_renderer(made, renderer)
    return Drawn(data, note)
