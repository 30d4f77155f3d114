"""The command line: gathers the commands, and turns what goes wrong into lines and an exit status."""

from __future__ import annotations

import gc
import os
import re
import sys
import traceback
from collections.abc import Sequence

import click

from assembly.commands.cables import cables
from assembly.commands.checks import checks
from assembly.commands.common import BY_ERROR, ExitStatus, say
from assembly.commands.compare import compare
from assembly.commands.export import export
from assembly.commands.grind import grind
from assembly.commands.helps import helps
from assembly.commands.history import history_
from assembly.commands.inspect import inspect
from assembly.commands.loads import loads
from assembly.commands.map import map_
from assembly.commands.measured import measured
from assembly.commands.measures import measures
from assembly.commands.new import new
from assembly.commands.nightly import nightly
from assembly.commands.page import page
from assembly.commands.picture import picture
from assembly.commands.play import play
from assembly.commands.pose import pose
from assembly.commands.propose import propose
from assembly.commands.range import range_
from assembly.commands.renamed import renamed_option
from assembly.commands.rods import rods
from assembly.commands.schema import schema
from assembly.commands.signals import EndedBySignal, ended_by_signals
from assembly.commands.spread import spread
from assembly.commands.stop import stop
from assembly.commands.streams import guarded_streams
from assembly.commands.sweep import sweep
from assembly.commands.unexpected import TRACEBACK, unexpected
from assembly.commands.variants import variants
from assembly.commands.watch import watch
from assembly.commands.weights import weights
from assembly.commands.wheels import wheels
from assembly.errors import SwingroomError
from assembly.printable import is_utf8, visible

COLLECT_AFTER = 5000
"""New containers after which Python looks for rings of them. Its default, 700, is for programs that load less: looking
over everything that is loaded, again and again while it loads, took a tenth of a short command."""
NOT_TOLD = "what was found could not be told there; files that were written are whole"


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and give its exit status; whoever called ends the process with it."""
    gc.set_threshold(COLLECT_AFTER, *gc.get_threshold()[1:])
    given = sys.argv[1:] if arguments is None else list(arguments)
    with guarded_streams() as streams:
        status = _ended(given)
        streams.out.flush()
        if streams.out.trouble:
            _complain(ExitStatus.BROKEN, f"cannot write to standard output: {streams.out.trouble}; {NOT_TOLD}")
        elif streams.err.trouble and "--json" not in given:
            say(f"cannot write to standard error: {streams.err.trouble}; {NOT_TOLD}\n")
    return ExitStatus.BROKEN if streams.out.trouble or streams.err.trouble else status


def _ended(arguments: Sequence[str]) -> int:
    """One command, or the line and the exit status of the signal that ends it."""
    try:
        with ended_by_signals():
            return _run(arguments)
    except EndedBySignal as end:
        say(f"{end.line}\n", sys.stderr)
        return end.status


def _run(arguments: Sequence[str]) -> int:
    """One command; whatever goes wrong in it is reported in lines."""
    if odd := next((word for word in arguments if not is_utf8(word)), None):
        return _complain(ExitStatus.INPUT, f"{odd!r} is not UTF-8; give the file or folder a name that is")
    try:
        return int(commands.main(arguments, prog_name="swingroom", standalone_mode=False) or 0)
    except click.exceptions.Abort:
        return _complain(ExitStatus.INTERRUPTED, "stopped by hand; no file is half written")
    except click.UsageError as error:
        where = f"{error.ctx.command_path} --help" if error.ctx else "swingroom --help"
        return _complain(ExitStatus.INPUT, f"{_told(error)}; see `{where}`")
    except SwingroomError as error:
        return _complain(BY_ERROR.get(type(error), ExitStatus.INPUT), *map(str, error.faults))
    except Exception as error:  # the last line of defence: a defect of this program must not look like a verdict
        if os.environ.get(TRACEBACK):
            sys.stderr.write(traceback.format_exc())
        return _complain(*unexpected(error))


def _told(error: click.UsageError) -> str:
    """What is wrong with the command line; an option of an earlier version is refused with its name of now."""
    if isinstance(error, click.NoSuchOption) and error.ctx and (now := renamed_option(error.option_name, error.ctx)):
        return f"{error.message.rstrip('.')}; it is called {now} now"
    return _plain(error.format_message().rstrip("."))


def _plain(told: str) -> str:
    """A message of the library in words that a builder reads: whole numbers, and ranges from one to another."""
    told = re.sub(r"is not a valid integer( range)?", "is not a whole number", told)
    told = re.sub(r"is not a valid float( range)?", "is not a number", told)
    told = re.sub(rf"range ({_NUMBER})<=?x<=?({_NUMBER})", r"range \1 to \2", told)
    told = re.sub(rf"range x>=({_NUMBER})", r"range \1 or more", told)
    return re.sub(rf"range x>({_NUMBER})", r"range above \1", told)


_NUMBER = r"-?[\d.e+]+"


def _complain(status: ExitStatus, *lines: str) -> ExitStatus:
    for line in lines:
        sys.stderr.write(f"{visible(' '.join(line.split()))}\n")
    return status


@click.group(no_args_is_help=False, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name="swingroom")
def commands() -> None:
    """Find out whether any part of a linkage strikes another, anywhere in its range.

    Exit status of sweep, watch, page, pose, stop, loads, measures, wheels, rods, cables, spread, play, measured,
    checks, helps, propose, grind, inspect and nightly: 0 clear, 1 the design fails, 2 the input is wrong, 3 not
    decided; of variants 0 if any is clear; of compare 0 not worse, 1 worse, 2 and 3 as above. 4 from any: an output
    could not be written, or the program broke off; nothing is said of FILE.
    """


for command in (
    *(sweep, watch, page, pose, range_, stop, loads, measures, wheels, rods, spread, play, helps),
    *(propose, grind, variants, measured, checks, weights, cables, inspect, map_, picture, export),
    *(history_, compare, nightly, new, schema),
):
    commands.add_command(command)
