"""The picture that a run draws last. It never decides a number or the exit status."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from assembly.errors import TimeLimitError
from assembly.geometry.scene import DepthScene, Scene
from assembly.record import write_whole
from assembly.report.text.run_files import Files
from assembly.time_limit import check_time

PICTURE_S = 1.0
"""Seconds that must be left for a picture to be begun."""


def with_picture(files: Files, scene: Callable[[], Scene] | None, path: Path) -> Files:
    """``files`` with the picture of ``scene``, or with the reason why there is none: it never costs a result.

    Without a scene there is nothing to draw.
    """
    if scene is None:
        return files
    try:
        check_time(PICTURE_S)
        from assembly.report.render.pictures import draw

        draw(scene(), path)
    except TimeLimitError as error:
        return replace(files, picture_note=f"none was drawn: {error.told}")
    except Exception as error:  # numbers and exit status never depend on a picture
        return replace(files, picture_note=f"none was drawn: {' '.join(str(error).split()) or type(error).__name__}")
    return replace(files, picture=path)


def depth_drawn(scene: DepthScene, path: Path) -> Files:
    """The picture of how deep something goes from a part, or the reason why there is none: it never costs a result."""
    try:
        check_time(PICTURE_S)
        from assembly.report.render.depth_picture import depth_picture

        write_whole(path, depth_picture(scene))
    except TimeLimitError as error:
        return Files(picture_note=f"none was drawn: {error.told}")
    except Exception as error:  # numbers and exit status never depend on a picture
        return Files(picture_note=f"none was drawn: {' '.join(str(error).split()) or type(error).__name__}")
    return Files(picture=path)
