"""Pictures and films of a machine as the bytes of their files."""

from __future__ import annotations

from collections.abc import Iterator
from io import BytesIO

from PIL import Image

from assembly.errors import Fault, InputError
from assembly.progress import Progress
from assembly.report.render.gif import gif_bytes
from assembly.report.render.mp4 import mp4_bytes, mp4_trouble
from assembly.report.render.pictures import check_size, drawing_or_told
from assembly.report.render.portrait import Look, Subject, moving_sheets, still_sheet, turning_sheets

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
    """One PNG. PictureError if nothing can draw."""
    with drawing_or_told():
        data = BytesIO()
        still_sheet(subject, look).save(data, "PNG")
        return data.getvalue()


def run_film(subject: Subject, look: Look, ending: str, progress: Progress) -> bytes:
    """A film of all places of the subject. PictureError if nothing can draw."""
    return _film(moving_sheets(subject, look), len(subject.captions), ending, progress)


def turn_film(subject: Subject, look: Look, ending: str, number: int, progress: Progress) -> bytes:
    """A film once round the subject in ``number`` frames. PictureError if nothing can draw."""
    return _film(turning_sheets(subject, look, number), number, ending, progress)


def _film(frames: Iterator[Image.Image], number: int, ending: str, progress: Progress) -> bytes:
    def counted() -> Iterator[Image.Image]:
        for done, frame in enumerate(frames, 1):
            progress("draw", done, number)
            yield frame

    progress("draw", 0, 0)
    with drawing_or_told():
        return mp4_bytes(counted(), RATE) if ending == ".mp4" else gif_bytes(counted(), HUNDREDTHS)
