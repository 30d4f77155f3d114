"""``swingroom stop``."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from assembly.arguments import NameValue
from assembly.commands.common import (
    BY_VERDICT,
    CORES,
    FILE,
    JSON,
    NO_PICTURE,
    OUT,
    ExitStatus,
    answer,
    once_each,
    results_folder,
    say,
    show,
)
from assembly.errors import Fault, InputError

if TYPE_CHECKING:
    from assembly.studies.stops.designed import StopsDesigned

RECORD, PICTURE = "stops.json", "stop.png"


@click.command()
@FILE
@click.option("--height", "heights", type=NameValue(), multiple=True, help="Try a stop at this height: which angle?")
@click.option("--write", type=click.Path(path_type=Path), help="STL of the pads or bolts, to cut or print.")
@CORES
@OUT
@NO_PICTURE
@JSON
def stop(
    file: Path,
    heights: tuple[tuple[str, float], ...],
    write: Path | None,
    cores: int,
    out: Path | None,
    no_picture: bool,
    as_json: bool,
) -> ExitStatus:
    """Design the stops of FILE, build them in, and prove that they act before anything else touches."""
    from assembly.api.picture_scenes import stop_scene
    from assembly.clearance.narrow_phase.pair_result import Effort
    from assembly.model.reader import read_machine
    from assembly.record import json_text, write_whole
    from assembly.report.render.optional_picture import with_picture
    from assembly.report.text.run_files import Files, file_lines
    from assembly.report.text.stop_text import stop_blocks
    from assembly.report.text.terminal import progress
    from assembly.studies.stops.stop_design import settle_stops

    machine = read_machine(file)
    folder = results_folder(out, file)
    if write is not None and not machine.stops:
        raise InputError(Fault("there is no stop to write", hint="declare one in the file: [stops.NAME]"))
    with progress(sys.stderr) as told:
        settled = settle_stops(machine, Effort(cores=cores), told, once_each(heights))
    record = settled.record
    try:
        write_whole(folder / RECORD, json_text(record))
    finally:
        answer(record, stop_blocks, as_json=as_json)
    files = Files(folder / RECORD)
    scene = None if no_picture else stop_scene(settled)
    if scene is not None:
        files = with_picture(files, scene, folder / PICTURE)
    stream = sys.stderr if as_json else sys.stdout
    show(file_lines(files), stream)
    if write is not None:
        for path in _write_pads(settled.designed, write):
            say(f"solid:   {path}\n", stream)
    return BY_VERDICT[record.verdict]


def _write_pads(designed: StopsDesigned, path: Path) -> list[Path]:
    """One STL file per stop that the file writes out; where there are several, each has the stop's name in its own."""
    from assembly.geometry.stl import stl_bytes
    from assembly.model.stop_solids import stop_to_make
    from assembly.record import write_whole

    own = [design for design in designed.designs.values() if design.to_make and not design.stop.twin_of]
    written = []
    for design in own:
        name = path if len(own) == 1 else path.with_name(f"{path.stem}_{design.stop.name}{path.suffix}")
        write_whole(name, stl_bytes(stop_to_make(design.stop, design.to_make or 0.0)))
        written.append(name)
    return written
