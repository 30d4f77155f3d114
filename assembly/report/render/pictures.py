"""One PNG of a machine at one setting: the whole of it, and a close-up of the gap or the overlap of one pair.

Pictures are a view of numbers made elsewhere: where nothing can draw, PictureError says so and the numbers stand.
"""

from __future__ import annotations

import os
import secrets
import subprocess
import sys
from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cache
from io import BytesIO
from pathlib import Path
from typing import Literal, TypeVar, get_args

from assembly.errors import Fault, InputError, OutputError, PictureError, SwingroomError
from assembly.geometry.mesh import Floats
from assembly.geometry.scene import Scene
from assembly.report.render.camera import Size
from assembly.report.render.shading import Renderer
from assembly.report.render.sheet import Shot, layout, sheet
from assembly.report.render.stage import stage, view
from assembly.report.render.viewpoint import close_up, focus, overview

Made = TypeVar("Made")
RendererName = Literal["auto", "gl", "ray"]

LARGEST = 8000
"""Pixels a side: OpenGL gives black pictures, without an error, somewhere beyond."""
SMALLEST = (640, 360)
"""Pixels below which the words no longer fit."""
INSTALL_OPENGL = (
    "for pictures by OpenGL install libEGL and the Mesa drivers "
    "(Debian: apt-get install --no-install-recommends libegl1 libgl1-mesa-dri)"
)
PROBE = "import sys; from assembly.report.render.gl_picture import works; sys.exit(0 if works() else 3)"
PROBE_SECONDS = 60.0
_GHOST_WHOLE, _GHOST_CLOSE = 0.35, 0.14
"""Opacity of the other parts before the pair."""


@dataclass(frozen=True, slots=True)
class PictureResult:
    """What was drawn, where, and by which renderer; ``note`` says why it is not the first choice."""

    path: Path
    renderer: str
    note: str = ""


def draw(
    scene: Scene, path: Path, size: tuple[int, int] = (1600, 900), renderer: RendererName = "auto"
) -> PictureResult:
    """Draw ``scene`` into the PNG ``path``, in whole or not at all.

    Raises InputError for a size or renderer there is not, OutputError where the file cannot be
    written, PictureError where no renderer works.
    """
    check_size(size)
    _check_renderer(renderer)
    path = Path(path)
    _check_place(path)
    data, name, note = by_any_renderer(lambda name: _png(scene, size, name), renderer)
    _write(path, data)
    return PictureResult(path, name, note)


def by_any_renderer(make: Callable[[str], Made], renderer: RendererName = "auto") -> tuple[Made, str, str]:
    """What ``make`` gives with the first renderer that works, its name, and why it is not the first choice.

    Raises PictureError where none works.
    """
    missed: list[str] = []
    for name in ("gl", "ray") if renderer == "auto" else (renderer,):
        if name == "gl" and (trouble := opengl_trouble()):
            missed.append(trouble)
            continue
        try:
            return make(name), name, "; ".join(missed)
        except SwingroomError:
            raise
        except Exception as error:  # a renderer may fail in any way; the next one is asked
            missed.append(f"the renderer {name!r} failed: {type(error).__name__}: {error}")
    raise PictureError(Fault("no picture could be drawn: " + "; ".join(missed), hint="the numbers do not depend on it"))


@cache
def opengl_trouble() -> str:
    """Why OpenGL cannot be used here, empty where it can: found by drawing in a process of its own, once.

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
        return f"drawn without OpenGL, which gave no picture in {PROBE_SECONDS:g} s; {INSTALL_OPENGL}"
    except OSError as error:
        return f"drawn without OpenGL, which could not be tried ({error}); {INSTALL_OPENGL}"
    return "" if done.returncode == 0 else f"drawn without OpenGL, which does not work here; {INSTALL_OPENGL}"


def opened_renderer(name: str, layers: Mapping[str, Floats]) -> AbstractContextManager[Renderer]:
    """The renderer ``name`` opened on ``layers``."""
    if name == "gl":
        from assembly.report.render.gl_picture import gl_renderer

        return gl_renderer(layers)
    from assembly.report.render.ray_picture import ray_renderer

    return ray_renderer(layers)


def _png(scene: Scene, size: Size, name: str) -> bytes:
    """The whole picture as the bytes of a PNG file."""
    layers = stage(scene)
    about = focus(scene)
    plan = layout(size, with_close_up=about is not None)
    with opened_renderer(name, layers.triangles) as renderer:
        camera = overview(renderer, layers, about, plan.whole.size)
        whole = Shot(view(renderer, layers, camera, plan.whole.size, _GHOST_WHOLE), camera)
        close = None
        if about is not None and plan.close is not None:
            camera = close_up(renderer, layers, about, camera, plan.close.size)
            close = Shot(view(renderer, layers, camera, plan.close.size, _GHOST_CLOSE, clear_before=0.0), camera)
    data = BytesIO()
    sheet(scene, about, plan, whole, close).save(data, "PNG")
    return data.getvalue()


def _check_renderer(renderer: str) -> None:
    names = get_args(RendererName)
    if renderer not in names:
        near = get_close_matches(str(renderer), names, 1)
        hint = f"use {', '.join(names)}" + (f"; did you mean {near[0]!r}?" if near else "")
        raise InputError(Fault(f"there is no renderer {renderer!r}", hint=hint))


def check_size(size: tuple[int, int], largest: int = LARGEST) -> None:
    """InputError for a size in pixels on which words have no room, or larger than ``largest`` a side."""
    whole = isinstance(size, tuple) and len(size) == 2 and all(type(side) is int for side in size)
    if not (whole and all(least <= side <= largest for least, side in zip(SMALLEST, size, strict=True))):
        hint = f"use whole numbers from {SMALLEST[0]} × {SMALLEST[1]} to {largest} × {largest} pixels"
        given = " × ".join(map(str, size)) if isinstance(size, tuple) else repr(size)
        raise InputError(Fault(f"a picture cannot be {given} pixels large", hint=hint))


def _check_place(path: Path) -> None:
    """Tell before any drawing that the picture could not be put there."""
    try:
        is_folder, has_folder = path.is_dir(), path.parent.is_dir()
    except OSError as error:
        raise OutputError(Fault(f"the picture cannot be written to {path}: {error.strerror or error}")) from error
    if is_folder:
        raise OutputError(Fault(f"the picture cannot be written to {path}: it is a folder", hint="name a file"))
    if not has_folder:
        raise OutputError(Fault(f"the picture cannot be written to {path}: there is no folder {path.parent}"))


def _write(path: Path, data: bytes) -> None:
    """Put ``data`` at ``path`` at once: a reader sees the old picture or the new one, never half of it."""
    part = path.with_name(f".picture-{os.getpid()}-{secrets.token_hex(4)}.part")
    try:
        with part.open("xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise OutputError(Fault(f"the picture cannot be written to {path}: {error.strerror or error}")) from error
