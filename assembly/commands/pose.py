"""``swingroom pose``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands.common import (
    BY_VERDICT,
    FILE,
    JSON,
    NO_PICTURE,
    OUT,
    ExitStatus,
    answer,
    once_each,
    run_name,
    show,
)

POSE = "pose.png"


@click.command()
@FILE
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stay at 0.")
@OUT
@NO_PICTURE
@JSON
def pose(
    file: Path, settings: tuple[tuple[str, float], ...], out: Path | None, no_picture: bool, as_json: bool
) -> ExitStatus:
    """Show FILE at one setting: distances of all pairs, and where each part stands."""
    from assembly.api.picture_scenes import pose_scene
    from assembly.model.reader import read_machine
    from assembly.record import prepare_folder
    from assembly.report.render.optional_picture import with_picture
    from assembly.report.text.pose_text import pose_blocks
    from assembly.report.text.run_files import Files, file_lines
    from assembly.studies.look import look

    machine = read_machine(file)
    folder = out or Path("results") / run_name(file)
    if not no_picture:
        prepare_folder(folder)
    looked = look(machine, once_each(settings))
    answer(looked.record, pose_blocks, as_json=as_json)
    scene = None if no_picture else pose_scene(looked)
    if scene is not None:
        show(file_lines(with_picture(Files(), scene, folder / POSE)), sys.stderr if as_json else sys.stdout)
    return BY_VERDICT[looked.record.verdict]
