"""``swingroom pose``."""

from __future__ import annotations

from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands import common

POSE = "pose.png"


@click.command()
@common.FILE
@common.TIME
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stay at 0.")
@common.OUT
@common.NO_PICTURE
@common.ALL
@common.JSON
def pose(
    file: Path,
    settings: tuple[tuple[str, float], ...],
    out: Path | None,
    no_picture: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Show FILE at one setting: distances of all pairs, and where each part stands."""
    from assembly.api.loading import load

    machine = load(file)
    from assembly.api.picture_scenes import pose_shown
    from assembly.record import prepare_folder, run_name
    from assembly.report.render.optional_picture import with_picture
    from assembly.report.text.pose_text import pose_blocks
    from assembly.report.text.run_files import Files

    folder = out or Path("results") / run_name(file)
    if not no_picture:
        prepare_folder(folder)
    found = pose_shown(machine, common.once_each(settings))
    verdict = common.answer_in_short(found.record, pose_blocks, everything=everything, as_json=as_json)
    common.tell_files(with_picture(Files(), None if no_picture else found.scene, folder / POSE), as_json=as_json)
    common.show(verdict)
    return common.BY_VERDICT[found.record.verdict]
