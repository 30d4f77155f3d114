"""``swingroom stop``."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import NameValue
from assembly.commands import common
from assembly.errors import Fault, InputError

if TYPE_CHECKING:
    from assembly.record import StopsRecord

RECORD, PICTURE = "stops.json", "stop.png"


@click.command()
@common.FILE
@common.TIME
@click.option("--height", "heights", type=NameValue(), multiple=True, help="Try a stop at this height: which angle?")
@click.option("--stl", type=click.Path(path_type=Path), help="STL of the pads or bolts that can be made.")
@common.RECOMPUTE
@common.CORES
@common.CLUSTER
@common.MEMORY
@common.OUT
@common.NO_PICTURE
@common.ALL
@common.JSON
def stop(
    file: Path,
    heights: tuple[tuple[str, float], ...],
    stl: Path | None,
    recompute: bool,
    cores: int,
    out: Path | None,
    no_picture: bool,
    everything: bool,
    as_json: bool,
) -> common.ExitStatus:
    """Design the stops of FILE, build them in, and prove that they act before anything else touches."""
    from assembly.api.loading import load

    machine = load(file)
    from assembly.api.picture_scenes import stops_shown
    from assembly.record import json_text, write_whole
    from assembly.report.render.optional_picture import with_picture
    from assembly.report.text.run_files import Files
    from assembly.report.text.stop_text import stop_blocks
    from assembly.report.text.terminal import progress

    folder = common.results_folder(out, file)
    if stl is not None and not machine.stops:
        raise InputError(Fault("there is no stop to write", hint="declare one in the file: [stops.NAME]"))
    with progress(sys.stderr) as told:
        found = stops_shown(machine, common.once_each(heights), cores, told, cached=not recompute)
    for each in found.notes:
        common.note(each)
    record = found.record
    try:
        write_whole(folder / RECORD, json_text(record))
    finally:
        verdict = common.answer_in_short(record, stop_blocks, everything=everything, as_json=as_json, record=RECORD)
    scene = None if no_picture else found.scene
    common.tell_files(with_picture(Files(folder / RECORD), scene, folder / PICTURE), as_json=as_json)
    if stl is not None:
        for line in _write_solids(found.solids, record, stl):
            common.say(f"solid:   {line}\n", sys.stderr if as_json else sys.stdout)
    common.show(verdict)
    return common.BY_VERDICT[record.verdict]


def _write_solids(solids: Mapping[str, bytes], record: StopsRecord, path: Path) -> Iterator[str]:
    """One STL file per stop that is to be made, and where it lies; of one that is advised against why there is none.

    Where there are several, each has the stop's name in its own; what is not proven says so in it.
    """
    from assembly.record import write_whole

    for stop, content in solids.items():
        why = _against(stop, record)
        if why:
            yield f"none of {stop}: {why}"
            continue
        proven = "" if record.verdict == "clear" else "_not_proven"
        named = "" if len(solids) == 1 else f"_{stop}"
        whole = path.with_name(f"{path.stem}{named}{proven}{path.suffix}")
        write_whole(whole, content)
        yield str(whole)


def _against(name: str, record: StopsRecord) -> str:
    """Why a stop is not to be made as it was designed; empty if nothing speaks against it."""
    stop = next(one for one in record.stops if one.name == name)
    if stop.faults:
        return "it is no stop as it is, see above"
    if stop.press is not None and (stop.press.weak or stop.press.strained):
        return "it does not carry its load, see above"
    proof = record.proof
    if proof and "fails" in [*(one.verdict for one in proof.near), *(one.verdict for one in proof.joints)]:
        return "the machine fails with the stops built in, see above"
    if proof and any(one.stop == name and one.missed for one in proof.struck):
        return "it is proven not to be struck, see above"
    return ""
