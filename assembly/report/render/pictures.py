"""One PNG of a machine at one setting: the whole of it, and a close-up of the gap or the overlap of one pair.

Pictures are a view of numbers made elsewhere: where nothing can draw, PictureError says so and the numbers stand.
"""

from __future__ import annotations

import os
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from functools import cache
from io import BytesIO
from pathlib import Path

from assembly.errors import Fault, InputError, PictureError, SwingroomError
from assembly.geometry.scene import Scene
from assembly.record import write_whole
from assembly.report.render.camera import Size
from assembly.report.render.renderer import rendering
from assembly.report.render.sheet import Shot, close_up_layout, close_up_sheet, layout, sheet
from assembly.report.render.stage import corners, stage
from assembly.report.render.view import view
from assembly.report.render.viewpoint import close_up, focus, overview

LARGEST = 8000
"""Pixels a side: OpenGL gives black pictures, without an error, somewhere beyond."""
SMALLEST = (640, 360)
"""Pixels below which the words no longer fit."""
NEEDED = (
    "pictures are drawn with OpenGL, {}; install libEGL and the Mesa drivers, which need no graphics card "
    "(Debian: apt-get install --no-install-recommends libegl1 libgl1-mesa-dri)"
)
ONLY_A_PICTURE = "the numbers do not depend on it"
PROBE = "import sys; from assembly.report.render.renderer import works; sys.exit(0 if works() else 3)"
PROBE_SECONDS = 60.0
_GHOST_WHOLE, _GHOST_CLOSE = 0.35, 0.14
"""Opacity of the other parts before the pair."""


def draw(scene: Scene, path: Path, size: tuple[int, int] = (1600, 900)) -> None:
    """Draw ``scene`` into the PNG ``path``, in whole or not at all.

    Raises InputError for a size that cannot be, OutputError if the file cannot be written,
    PictureError if nothing can draw.
    """
    check_size(size)
    with drawing_or_told():
        data = _png(scene, size)
    write_whole(Path(path), data)


def draw_close_up(scene: Scene, path: Path, size: tuple[int, int]) -> bool:
    """Draw only the close-up of ``scene``; False, and no file, where it has no gap and no overlap.

    Raises like `draw`.
    """
    check_size(size)
    with drawing_or_told():
        data = _close_up_png(scene, size)
    if data is not None:
        write_whole(Path(path), data)
    return data is not None


@contextmanager
def drawing_or_told() -> Iterator[None]:
    """Draw in here: PictureError if OpenGL does not work on this machine, or where drawing fails in any way."""
    if trouble := opengl_trouble():
        raise PictureError(Fault(trouble, hint=ONLY_A_PICTURE))
    try:
        yield
    except SwingroomError:
        raise
    except Exception as error:  # a library that draws may fail in any way
        raise PictureError(Fault(f"drawing failed: {type(error).__name__}: {error}", hint=ONLY_A_PICTURE)) from error


@cache
def opengl_trouble() -> str:
    """Why OpenGL cannot be used here, empty if it can: found by drawing in a process of its own, once.

    Where a driver is missing, OpenGL does not fail but ends the process that asked for it.
    """
    home = str(Path(__file__).resolve().parents[2])
    known = os.environ.get("PYTHONPATH")
    environment = {**os.environ, "PYTHONPATH": os.pathsep.join([home, known] if known else [home])}
    try:
        done = subprocess.run(  # noqa: S603 - this interpreter with the text above, nothing from outside
            [sys.executable, "-c", PROBE], env=environment, capture_output=True, timeout=PROBE_SECONDS, check=False
        )
    except subprocess.TimeoutExpired:
        return NEEDED.format(f"which gave none in {PROBE_SECONDS:g} s")
    except OSError as error:
        return NEEDED.format(f"which could not be tried here ({error})")
    return "" if done.returncode == 0 else NEEDED.format("which does not work here")


def _png(scene: Scene, size: Size) -> bytes:
    """The whole picture as the bytes of a PNG file."""
    solids = stage(scene)
    about = focus(scene)
    plan = layout(size, with_close_up=about is not None)
    with rendering(solids) as renderer:
        camera = overview(renderer, corners(solids), about, plan.whole.size)
        whole = Shot(view(renderer, camera, plan.whole.size, _GHOST_WHOLE), camera)
        close = None
        if about is not None and plan.close is not None:
            camera = close_up(renderer, about, camera, plan.close.size)
            close = Shot(view(renderer, camera, plan.close.size, _GHOST_CLOSE, clear_before=0.0), camera)
    data = BytesIO()
    sheet(scene, about, plan, whole, close).save(data, "PNG")
    return data.getvalue()


def _close_up_png(scene: Scene, size: Size) -> bytes | None:
    about = focus(scene)
    if about is None:
        return None
    solids, plan = stage(scene), close_up_layout(size)
    with rendering(solids) as renderer:
        camera = close_up(renderer, about, overview(renderer, corners(solids), about, size), size)
        close = Shot(view(renderer, camera, size, _GHOST_CLOSE, clear_before=0.0), camera)
    data = BytesIO()
    close_up_sheet(scene, about, plan, close).save(data, "PNG")
    return data.getvalue()


def check_size(size: tuple[int, int], largest: int = LARGEST) -> None:
    """InputError for a size in pixels on which words have no room, or larger than ``largest`` a side."""
    whole = isinstance(size, tuple) and len(size) == 2 and all(type(side) is int for side in size)
    if not (whole and all(least <= side <= largest for least, side in zip(SMALLEST, size, strict=True))):
        hint = f"use whole numbers from {SMALLEST[0]} × {SMALLEST[1]} to {largest} × {largest} pixels"
        given = " × ".join(map(str, size)) if isinstance(size, tuple) else repr(size)
        raise InputError(Fault(f"a picture cannot be {given} pixels large", hint=hint))
