"""``swingroom export``."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from assembly.arguments import NameValue
from assembly.commands import common


@click.command()
@common.FILE
@common.TIME
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stand at 0.")
@click.option("--still", is_flag=True, help="Only the pose, without the motions of the drives.")
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="FILE.glb", help="The file.  [default: results/NAME/NAME.glb]"
)
def export(file: Path, settings: tuple[tuple[str, float], ...], still: bool, out: Path | None) -> common.ExitStatus:
    """Write FILE as a model that moves, for any viewer of binary glTF: one animation for each drive."""
    from assembly.api.loading import load
    from assembly.record import prepare_folder, run_name, write_whole
    from assembly.report.text.motion_text import model_blocks
    from assembly.report.text.terminal import progress

    given = common.once_each(settings)
    path = common.chosen_file(out, Path("results") / run_name(file) / f"{run_name(file)}.glb", (".glb",))
    machine = load(file)
    from assembly.api.moving_views import moving_model

    with progress(sys.stderr) as told:
        made = moving_model(machine, given, still=still, progress=told)
    prepare_folder(path.parent)
    write_whole(path, made.glb)
    common.show(model_blocks(made.record))
    common.say(f"\nmodel: {path}\n")
    return common.ExitStatus.FAILS if made.record.left_out else common.ExitStatus.CLEAR
