"""``swingroom new``."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from assembly.commands.common import ExitStatus, say
from assembly.errors import Fault, InputError

KINDS = {
    "arm_and_crank": "a hand crank swings an arm by a rod, a head turns at the arm's end: the smallest closed loop",
    "steered_corner": "a wheel on two arms, steered by a tie rod from a rack: ball joints, wheels, road",
    "leaning_pair": "two wheels that lean, a bell crank and two tie rods: a mirror, a drive of two joints",
    "tilt_and_swivel": "a tray that tilts in a fork, on a post: cuts, plates, stops, a measure with a limit",
    "four_bar_lift": "two arms and a ram lift a table that stays level: a slide in a loop, loads",
}
"""The machines to start from, each with what it is and what it teaches."""


def _told(context: click.Context, _parameter: click.Parameter, asked: bool) -> None:
    if asked:
        width = max(map(len, KINDS))
        say("".join(f"{kind:<{width}}  {what}\n" for kind, what in KINDS.items()))
        context.exit(ExitStatus.CLEAR)


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
@click.option("--kind", type=click.Choice(tuple(KINDS)), default="arm_and_crank", help="Which machine to start from.")
@click.option("--list", is_flag=True, is_eager=True, expose_value=False, callback=_told, help="Tell the kinds.")
def new(folder: Path, kind: str) -> ExitStatus:
    """Write a small machine to start from into DIR, with comments that teach the format."""
    from importlib.resources import files

    from assembly.api.file_keys import SCHEMA_FILE, schema_text
    from assembly.record import prepare_folder, write_whole
    from assembly.report.text.run_files import command_line

    path = folder / f"{folder.resolve().name or 'machine'}.toml"
    if path.exists():
        raise InputError(Fault(f"{path} is already there", hint="name another folder, or move that file away"))
    text = (files("assembly") / "starter" / f"{kind}.toml").read_text(encoding="utf-8")
    prepare_folder(folder)
    write_whole(path, text.replace("machine.toml", shlex.quote(path.name)))
    write_whole(folder / SCHEMA_FILE, schema_text())
    say(f"wrote {path}\nnow: {command_line('sweep', path)}\n")
    say(f"{folder / SCHEMA_FILE} lets an editor complete and check it while you type\n")
    return ExitStatus.CLEAR
