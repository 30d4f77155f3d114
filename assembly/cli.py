"""The command line: arguments, one study, one record, one report, one exit status. Nothing else prints or exits."""

from __future__ import annotations

import os
import shlex
import sys
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from enum import IntEnum
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, TextIO

import click

from assembly.arguments import NameValue, Positive
from assembly.errors import AssemblyError, CutShortError, Fault, InputError, SwingroomError

if TYPE_CHECKING:
    from assembly.clearance.outcome import Overlap, Setting
    from assembly.clearance.pairs import CheckedPair
    from assembly.clearance.witness import Witness
    from assembly.geometry.scene import Scene
    from assembly.motion.mechanism import Mechanism
    from assembly.report.blocks import Block

RECORD, CLOSEST, POSE = "record.json", "closest.png", "pose.png"


class ExitStatus(IntEnum):
    """What the exit status of every command says."""

    CLEAR = 0
    """Proven clear and all limits kept; or the command had nothing to judge."""
    FAILS = 1
    """The design fails."""
    INPUT = 2
    """The file, an argument or the output folder is wrong."""
    UNDECIDED = 3
    """Not decided: out of time, cut short, or no proof was found."""
    INTERRUPTED = 130
    """Stopped by hand before anything was known."""


BY_VERDICT = {"clear": ExitStatus.CLEAR, "fails": ExitStatus.FAILS, "undecided": ExitStatus.UNDECIDED}
BY_ERROR = {AssemblyError: ExitStatus.FAILS, CutShortError: ExitStatus.UNDECIDED}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status; whoever called ends the process with it."""
    for stream in (sys.stdout, sys.stderr):
        with suppress(AttributeError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]  # a test's stream may lack it
    try:
        return int(commands.main(arguments, prog_name="swingroom", standalone_mode=False) or 0)
    except click.exceptions.Abort:
        return _complain(ExitStatus.INTERRUPTED, "stopped by hand; nothing was written")
    except click.UsageError as error:
        where = f"{error.ctx.command_path} --help" if error.ctx else "swingroom --help"
        return _complain(ExitStatus.INPUT, f"{error.format_message()} See `{where}`")
    except SwingroomError as error:
        return _complain(BY_ERROR.get(type(error), ExitStatus.INPUT), *map(str, error.faults))


def _complain(status: ExitStatus, *lines: str) -> ExitStatus:
    with _open_end(sys.stderr):
        for line in lines:
            sys.stderr.write(f"{' '.join(line.split())}\n")
    return status


@click.group(no_args_is_help=False, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="swingroom")
def commands() -> None:
    """Find out whether any part of a linkage strikes another, anywhere in its range.

    Exit status of sweep, pose and inspect: 0 clear, 1 the design fails, 2 the input is wrong, 3 not decided.
    """


def _cores() -> int:
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


FILE = click.argument("file", type=click.Path(path_type=Path))
CORES = click.option("--cores", type=click.IntRange(min=1), default=_cores, help="Processes to use.  [default: all]")
OUT = click.option("--out", type=click.Path(path_type=Path), help="Folder for the files.  [default: results/NAME]")
NO_PICTURE = click.option("--no-picture", is_flag=True, help="Draw nothing.")
JSON = click.option("--json", "as_json", is_flag=True, help="Print the record to stdout instead of the report.")


@commands.command()
@FILE
@click.option("--bracket", type=Positive(), default=0.1, show_default=True, help="Close in to this many mm (or 2 %).")
@click.option("--budget", type=Positive(), help="Stop after this many seconds; what is open then stays undecided.")
@CORES
@OUT
@NO_PICTURE
@JSON
def sweep(
    file: Path, bracket: float, budget: float | None, cores: int, out: Path | None, no_picture: bool, as_json: bool
) -> ExitStatus:
    """Check every pair of parts of FILE over the whole range of its drives."""
    from assembly.clearance.outcome import Effort
    from assembly.model.reader import read_machine
    from assembly.record import check_record, json_text, prepare_folder, save
    from assembly.report.advice import closing
    from assembly.report.files import Files, with_picture
    from assembly.report.sweep_text import sweep_blocks
    from assembly.report.terminal import progress
    from assembly.studies.check import check
    from assembly.studies.joint_ranges import joint_ranges

    machine = read_machine(file)
    folder = out or Path("results") / file.stem
    prepare_folder(folder)
    with progress(sys.stderr) as told:
        checked = check(machine, Effort(bracket_mm=bracket, budget_s=budget, cores=cores), told)
        told("joints", 0, 0)
        record = check_record(checked, joint_ranges(checked.mechanism))
    try:
        save(record, folder / RECORD)
    finally:
        if as_json:
            _say(json_text(record))
        else:
            _show(sweep_blocks(record))
    files, nearest = Files(folder / RECORD), next(iter(checked.found), None)
    shown = nearest and (nearest.result.overlap or nearest.witness)
    if not no_picture and nearest and shown:
        scene = partial(_scene, checked.mechanism, nearest.result.at, nearest.result.pair, shown)
        files = with_picture(files, scene, folder / CLOSEST)
    _show(closing(record, files, _command("sweep", file)), sys.stderr if as_json else sys.stdout)
    return BY_VERDICT[record.verdict]


@commands.command()
@FILE
@click.option("--set", "settings", type=NameValue(), multiple=True, help="A drive's setting; others stay at 0.")
@OUT
@NO_PICTURE
@JSON
def pose(
    file: Path, settings: tuple[tuple[str, float], ...], out: Path | None, no_picture: bool, as_json: bool
) -> ExitStatus:
    """Show FILE at one setting: distances of all pairs, and where each part stands."""
    from assembly.model.reader import read_machine
    from assembly.record import json_text, pose_record, prepare_folder
    from assembly.report.files import Files, file_lines, with_picture
    from assembly.report.pose_text import pose_blocks
    from assembly.studies.look import look

    machine = read_machine(file)
    folder = out or Path("results") / file.stem
    if not no_picture:
        prepare_folder(folder)
    looked = look(machine, _once_each(settings))
    record = pose_record(looked)
    if as_json:
        _say(json_text(record))
    else:
        _show(pose_blocks(record))
    if not no_picture and looked.seen:
        seen = looked.seen[0]
        scene = partial(_scene, looked.mechanism, looked.at, seen.pair, seen.overlap or seen.witness)
        _show(file_lines(with_picture(Files(), scene, folder / POSE)), sys.stderr if as_json else sys.stdout)
    return BY_VERDICT[record.verdict]


@commands.command()
@FILE
@JSON
def inspect(file: Path, as_json: bool) -> ExitStatus:
    """List what FILE holds: parts, meshes, joints, freedoms, loops, and the pairs that are not checked."""
    from assembly.model.reader import read_machine
    from assembly.record import inspect_record, json_text
    from assembly.report.inspect_text import inspect_blocks
    from assembly.studies.inventory import inventory

    record = inspect_record(inventory(read_machine(file)))
    if as_json:
        _say(json_text(record))
    else:
        _show(inspect_blocks(record))
    return ExitStatus.FAILS if record.faults else ExitStatus.CLEAR


@commands.command("map")
@FILE
@click.option("--pair", nargs=2, metavar="PART PART", help="Only these two.  [default: all pairs that move]")
@click.option("--cells", type=click.IntRange(min=1), help="Cells along each drive.  [default: 31; one drive: 121]")
@click.option("--step", "steps", type=NameValue(), multiple=True, help="Width of a cell along a drive, instead.")
@click.option("--set", "held", type=NameValue(), multiple=True, help="Hold a drive; beyond two, others stay at 0.")
@CORES
@OUT
def map_(
    file: Path,
    pair: tuple[str, str] | None,
    cells: int | None,
    steps: tuple[tuple[str, float], ...],
    held: tuple[tuple[str, float], ...],
    cores: int,
    out: Path | None,
) -> ExitStatus:
    """Draw the least clearance of FILE over its drives as picture and table. Its exit status is not the sweep's."""
    from assembly.model.reader import read_machine
    from assembly.record import map_record, prepare_folder
    from assembly.report.map_files import map_file_lines, write_map
    from assembly.report.map_text import map_blocks
    from assembly.report.terminal import progress
    from assembly.studies.mapping import MapWish, map_clearance

    wish = MapWish(pair, cells, _once_each(steps), _once_each(held))
    machine = read_machine(file)
    folder = out or Path("results") / file.stem
    prepare_folder(folder)
    with progress(sys.stderr) as told:
        record = map_record(map_clearance(machine, wish, told, cores))
    try:
        files = write_map(record, folder)
    finally:
        _show(map_blocks(record, _command("sweep", file)))
    _show(map_file_lines(files))
    return ExitStatus.FAILS if record.fails else ExitStatus.CLEAR


@commands.command()
@click.argument("folder", metavar="DIR", type=click.Path(path_type=Path))
def new(folder: Path) -> ExitStatus:
    """Write a small machine to start from into DIR, with comments that teach the format."""
    from importlib.resources import files

    from assembly.record import prepare_folder, write_whole

    path = folder / f"{folder.resolve().name or 'machine'}.toml"
    if path.exists():
        raise InputError(Fault(f"{path} is already there", hint="name another folder, or move that file away"))
    text = (files("assembly") / "starter" / "machine.toml").read_text(encoding="utf-8")
    prepare_folder(folder)
    write_whole(path, text.replace("machine.toml", shlex.quote(path.name)))
    _say(f"wrote {path}\nnow: {_command('sweep', path)}\n")
    return ExitStatus.CLEAR


def _once_each(settings: Iterable[tuple[str, float]]) -> dict[str, float]:
    given: dict[str, float] = {}
    for name, value in settings:
        if name in given:
            raise InputError(Fault(f"drive `{name}` is set twice", hint="give each drive one --set"))
        given[name] = value
    return given


def _scene(mechanism: Mechanism, at: Setting, pair: CheckedPair, shown: Witness | Overlap) -> Scene:
    from assembly.record.common import drive_entries, settings_of
    from assembly.report.words import setting
    from assembly.studies.view import pair_scene

    machine = mechanism.machine
    title = f"{machine.name}: {pair.a} and {pair.b}"
    where = setting(settings_of(machine, at), drive_entries(machine))
    return pair_scene(mechanism, at, (pair.a, pair.b), shown, (title, where))


def _command(name: str, file: Path) -> str:
    return f"swingroom {name} {shlex.quote(str(file))}"


def _show(blocks: Iterable[Block], stream: TextIO | None = None) -> None:
    from assembly.report.terminal import write

    target = stream or sys.stdout
    with _open_end(target):
        write(blocks, target)


def _say(text: str) -> None:
    with _open_end(sys.stdout):
        sys.stdout.write(text)
        sys.stdout.flush()


@contextmanager
def _open_end(stream: TextIO) -> Iterator[None]:
    """A reader that closes its end early, such as `head`, takes nothing from the exit status."""
    try:
        yield
    except BrokenPipeError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
