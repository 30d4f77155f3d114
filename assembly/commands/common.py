"""What the commands share: exit status, options, and writing to the two streams."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from enum import IntEnum
from pathlib import Path
from typing import TYPE_CHECKING, TextIO, TypeVar

import click

from assembly.api.cores import all_cores
from assembly.arguments import Bytes, NameValue, NotNegative, Positive
from assembly.errors import AssemblyError, CutShortError, Fault, InputError, PictureError, TimeLimitError
from assembly.printable import visible
from assembly.time_limit import time_limit
from assembly.working_memory import limited_to

if TYPE_CHECKING:
    from assembly import Machine
    from assembly.api.main_check import Effort, SweepResult
    from assembly.report.text.layout import Block
    from assembly.report.text.run_files import Files

Shown = TypeVar("Shown")
Command = TypeVar("Command", bound=Callable[..., object])


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
    BROKEN = 4
    """What was found could not be reported, because an output cannot be written, or the program itself broke off."""
    INTERRUPTED = 130
    """Stopped by hand before anything was known."""


BY_VERDICT = {"clear": ExitStatus.CLEAR, "fails": ExitStatus.FAILS, "undecided": ExitStatus.UNDECIDED}
BY_ERROR = {
    AssemblyError: ExitStatus.FAILS,
    CutShortError: ExitStatus.UNDECIDED,
    PictureError: ExitStatus.UNDECIDED,
    TimeLimitError: ExitStatus.UNDECIDED,
}


def _limited(context: click.Context, _option: click.Parameter, size: int | None) -> None:
    """Let mesh files have ``size`` bytes until the command has ended."""
    if size is not None:
        from assembly.api.loading import largest_mesh

        context.with_resource(largest_mesh(size))


MESH_LIMIT = click.option(
    "--mesh-limit",
    type=Bytes(),
    callback=_limited,
    expose_value=False,
    help="The largest mesh file to read, such as 500MB or 2GB.  [default: 1GB]",
)
_FILE = click.argument("file", type=click.Path(path_type=Path))


def FILE(command: Command) -> Command:  # noqa: N802 - a decorator among those below
    """The machine that a command reads, and how large its mesh files may be."""
    return _FILE(MESH_LIMIT(command))


CORES = click.option(
    "--cores",
    type=click.IntRange(min=1),
    default=all_cores,
    callback=lambda _context, _option, given: min(given, all_cores()),
    help="Processes to use, no more than there are cores.  [default: all]",
)


def _elsewhere(context: click.Context, _option: click.Parameter, address: str | None) -> None:
    """Let the workers of a cluster work until the command has ended."""
    if address:
        from assembly.api.cluster import on_cluster

        context.with_resource(on_cluster(address))


CLUSTER = click.option(
    "--cluster",
    metavar="ADDRESS",
    envvar="SWINGROOM_CLUSTER",
    callback=_elsewhere,
    expose_value=False,
    help="Search on the dask cluster of this scheduler, as tcp://host:8786.  [default: $SWINGROOM_CLUSTER]",
)
ALLOW_LOSS = click.option(
    "--allow-loss",
    type=NotNegative(),
    default=0.5,
    show_default=True,
    help="mm that a clearance may lose without alarm.",
)
MEMORY = click.option(
    "--memory",
    type=Bytes(),
    expose_value=False,
    callback=lambda context, _option, given: None if given is None else context.with_resource(limited_to(given)),
    help="Working memory for postures that are worked on at once, such as 800MB.  [default: half of what is free]",
)


def _timed(context: click.Context, _option: click.Parameter, given: float | None) -> float | None:
    context.with_resource(time_limit(given))
    return given


TIME_LIMIT = click.option(
    "--time-limit",
    type=Positive(),
    callback=_timed,
    help="Stop after this many seconds; what is open then stays undecided.",
)
"""The time of the whole command, from here on; the parameter ``time_limit`` tells it."""
TIME = click.option(
    "--time-limit",
    type=Positive(),
    callback=_timed,
    expose_value=False,
    help="Stop after this many seconds; what is not known then is undecided.",
)
"""The same, for commands that need not know it."""
HELD = click.option(
    "--set", "held", type=NameValue(), multiple=True, help="Hold a drive; beyond two, others stay at 0."
)
WITHIN = click.option(
    "--within", type=Positive(), default=0.1, show_default=True, help="Close in to this many mm (or 2 %)."
)
RECOMPUTE = click.option("--recompute", is_flag=True, help="Compute everything again, also what earlier runs found.")
HISTORY = click.option(
    "--history",
    type=click.Path(path_type=Path),
    help="The history file.  [default: $SWINGROOM_HISTORY, else in your data folder]",
)
OUT = click.option("--out", type=click.Path(path_type=Path), help="Folder for the files.  [default: results/NAME]")
NO_PICTURE = click.option("--no-picture", is_flag=True, help="Draw nothing.")
SVG = click.option("--svg", is_flag=True, help="Draw the picture as SVG, sharp at any size, instead of PNG.")
ALL = click.option("--all", "everything", is_flag=True, help="Print everything, not only what fits on one screen.")
JSON = click.option("--json", "as_json", is_flag=True, help="Print the record to stdout instead of the report.")


def once_each(settings: Iterable[tuple[str, float]]) -> dict[str, float]:
    """Settings by drive. InputError for a drive that is set twice."""
    given: dict[str, float] = {}
    for name, value in settings:
        if name in given:
            raise InputError(Fault(f"drive `{name}` is set twice", hint="give each drive one --set"))
        given[name] = value
    return given


def chosen_file(out: Path | None, default: Path, endings: Sequence[str]) -> Path:
    """The file to write. InputError where its ending is none of ``endings`` or a folder is in its place."""
    path = out or default
    if path.suffix.lower() not in endings:
        hint = f"it can end in {' or '.join(endings)}"
        raise InputError(Fault(f"the file {path.name or path} has an ending that cannot be written here", hint=hint))
    if path.is_dir():
        raise InputError(Fault(f"{path} is a folder", hint="name a file that may be written"))
    return path


def results_folder(given: Path | None, file: Path) -> Path:
    """The folder that the files of a mechanism file go to, tried before anything long is computed. OutputError."""
    from assembly.record import prepare_folder, run_name

    folder = given or Path("results") / run_name(file)
    prepare_folder(folder)
    return folder


def note(text: str) -> None:
    """A sentence on stderr, beside the answer."""
    say(f"{text}\n", sys.stderr)


def sweep_aloud(machine: Machine, effort: Effort, *, recompute: bool = False) -> SweepResult:
    """Sweep with the progress, and what is to be said of the result cache, on stderr."""
    from assembly.api.main_check import sweep
    from assembly.report.text.terminal import progress

    with progress(sys.stderr) as told:
        swept = sweep(machine, effort=effort, progress=told, cached=not recompute)
    for each in swept.notes:
        note(each)
    return swept


def show(blocks: Iterable[Block], stream: TextIO | None = None) -> None:
    """Write a report to a stream, stdout if none is given."""
    from assembly.report.text.terminal import write

    write(blocks, stream or sys.stdout)


def answer(entry: Shown, blocks: Callable[[Shown], Iterable[Block]], *, as_json: bool) -> None:
    """Write a result to stdout: as JSON, or as the report that ``blocks`` make of it."""
    from assembly.record import json_text

    if as_json:
        say(json_text(entry))
    else:
        show(blocks(entry))


def answer_in_short(
    entry: Shown,
    blocks: Callable[[Shown], Iterable[Block]],
    *,
    everything: bool,
    as_json: bool = False,
    record: str = "",
    files: int | None = None,
) -> Iterable[Block]:
    """As ``answer``, cut down to one screen unless ``everything`` is asked for; the verdict, to be shown last.

    ``record``: the file that has all of it, if there is one. ``files``: lines that say where files lie, if it is known.
    """
    from assembly.report.text.one_screen import FILE_LINES, one_screen, verdict_again

    told = () if as_json else tuple(blocks(entry))
    short = one_screen(told, record, FILE_LINES if files is None else files)
    answer(entry, lambda _entry: told if everything else short, as_json=as_json)
    return tuple(verdict_again(told))


def tell_files(files: Files, *, as_json: bool = False) -> None:
    """Say where files lie: on stdout, or on stderr where that holds the record."""
    from assembly.report.text.run_files import file_lines

    show(file_lines(files), sys.stderr if as_json else sys.stdout)


def beside(blocks: Iterable[Block], *, as_json: bool) -> None:
    """Write what stands beside an answer: to stdout, or to stderr where that holds the record."""
    show(blocks, sys.stderr if as_json else sys.stdout)


def say(text: str, stream: TextIO | None = None) -> None:
    """Write text, line by line as it is, to a stream, stdout if none is given."""
    target = stream or sys.stdout
    target.write(visible(text, kept="\n"))
    target.flush()
