"""What a map, a usable range, variants or measures leave on disk: a table, and a picture where one can be drawn."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from assembly.errors import TimeLimitError
from assembly.record import MapRecord, MeasuresRecord, RangeRecord, VariantsRecord, map_table, range_table, write_whole
from assembly.report.text.layout import Block, Line
from assembly.time_limit import check_time

PICTURE_S = 0.5
"""Seconds that must be left for a picture to be begun."""
PictureKind = Literal["png", "svg"]
NOT_WANTED = "it was not wanted"


@dataclass(frozen=True, slots=True)
class MapFiles:
    """Where table and picture lie; ``trouble`` says why there is no picture."""

    table: Path
    picture: Path | None
    trouble: str = ""


def write_map(record: MapRecord, folder: Path, picture: PictureKind | None = "png") -> MapFiles:
    """Write the table of ``record`` and draw it, both into ``folder``; None draws no picture.

    Raises OutputError for the table only.
    """

    def draw(path: Path) -> None:
        from assembly.report.charts.map_picture import draw_map

        draw_map(record, path)

    stem = "_".join(("map", *(re.sub(r"\W+", "_", name) for name in record.pair or ())))
    return _written(folder / stem, map_table(record), draw, picture)


def write_range(record: RangeRecord, folder: Path, picture: PictureKind | None = "png") -> MapFiles:
    """The same for a usable range."""

    def draw(path: Path) -> None:
        from assembly.report.charts.range_picture import draw_range

        draw_range(record, path)

    return _written(folder / "range", range_table(record), draw, picture)


def write_variants(record: VariantsRecord, table: str, folder: Path, picture: PictureKind | None = "png") -> MapFiles:
    """The same for variants, whose ``table`` is made; None draws no picture."""

    def draw(path: Path) -> None:
        from assembly.report.charts.variants_picture import draw_variants

        draw_variants(record, path)

    return _written(folder / "variants", table, draw, picture)


def write_measures(
    record: MeasuresRecord, table: str, stem: Path, picture: PictureKind | None = "png", title: str = ""
) -> MapFiles:
    """The same for measures along drives, whose ``table`` is made, with a ``title`` of their own; None: no picture."""

    def draw(path: Path) -> None:
        from assembly.report.charts.measures_picture import draw_measures

        draw_measures(record, path, title)

    return _written(stem, table, draw, picture)


def _written(stem: Path, text: str, draw: Callable[[Path], None], kind: PictureKind | None) -> MapFiles:
    table = stem.with_suffix(".csv")
    write_whole(table, text)
    if kind is None:
        return MapFiles(table, None, NOT_WANTED)
    picture = stem.with_suffix(f".{kind}")
    try:
        check_time(PICTURE_S)
        draw(picture)
    except TimeLimitError as error:
        return MapFiles(table, None, error.told)
    except Exception as error:  # numbers and exit status never depend on a picture
        return MapFiles(table, None, " ".join(str(error).split()) or type(error).__name__)
    return MapFiles(table, picture)


def map_file_lines(files: MapFiles) -> Iterator[Block]:
    """Where table and picture lie, or the reason why there is no picture."""
    yield Line("")
    yield Line(f"table:   {files.table}")
    yield Line(f"picture: {files.picture}" if files.picture else f"picture: none was drawn: {files.trouble}")
