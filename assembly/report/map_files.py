"""What a map leaves on disk: its table, and its picture where one can be drawn."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from assembly.record import MapRecord, map_table, write_whole
from assembly.report.blocks import Block, Line


@dataclass(frozen=True, slots=True)
class MapFiles:
    """Where table and picture lie; ``trouble`` says why there is no picture."""

    table: Path
    picture: Path | None
    trouble: str = ""


def write_map(record: MapRecord, folder: Path) -> MapFiles:
    """Write the table of ``record`` and draw it, both into ``folder``. Raises OutputError for the table only."""
    stem = "_".join(("map", *(re.sub(r"\W+", "_", name) for name in record.pair or ())))
    table, picture = folder / f"{stem}.csv", folder / f"{stem}.png"
    write_whole(table, map_table(record))
    try:
        from assembly.report.map_picture import draw_map

        draw_map(record, picture)
    except Exception as error:  # numbers and exit status never depend on a picture
        return MapFiles(table, None, " ".join(str(error).split()) or type(error).__name__)
    return MapFiles(table, picture)


def map_file_lines(files: MapFiles) -> Iterator[Block]:
    """Where table and picture lie, or the reason why there is no picture."""
    yield Line("")
    yield Line(f"table:   {files.table}")
    yield Line(f"picture: {files.picture}" if files.picture else f"picture: none was drawn: {files.trouble}")
