"""``swingroom new``."""

from __future__ import annotations

import shlex
from pathlib import Path

import click

from assembly.commands.common import ExitStatus, say
from assembly.errors import Fault, InputError


@click.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def new(folder: Path) -> ExitStatus:
    """Write a small machine to start from into DIR, with comments that teach the format."""
    from importlib.resources import files

    from assembly.api.file_keys import SCHEMA_FILE, schema_text
    from assembly.record import prepare_folder, write_whole
    from assembly.report.text.run_files import command_line

    path = folder / f"{folder.resolve().name or 'machine'}.toml"
    if path.exists():
        raise InputError(Fault(f"{path} is already there", hint="name another folder, or move that file away"))
    text = (files("assembly") / "starter" / "machine.toml").read_text(encoding="utf-8")
    prepare_folder(folder)
    write_whole(path, text.replace("machine.toml", shlex.quote(path.name)))
    write_whole(folder / SCHEMA_FILE, schema_text())
    say(f"wrote {path}\nnow: {command_line('sweep', path)}\n")
    say(f"{folder / SCHEMA_FILE} lets an editor complete and check it while you type\n")
    return ExitStatus.CLEAR
