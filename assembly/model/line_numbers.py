"""In which line of the file each entry and each shape stands, for what is found out once the file is read."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence

from assembly.model.fault_list import place_text
from assembly.model.machine import shape_place
from assembly.model.parts import PartRead
from assembly.model.reading import Bench

SECTIONS = ("parts", "joints", "drives", "measures")


def lines_of(names: Sequence[Collection[str]], read: Mapping[str, PartRead | None], bench: Bench) -> dict[str, int]:
    """Lines by place: those of ``names`` in each of ``SECTIONS``, and the shapes of the parts ``read``.

    A twin stands where its original does, unless the file writes it.
    """
    found: dict[str, int | None] = {}
    for section, entries in zip(SECTIONS, names, strict=True):
        for name in entries:
            across = bench.mirror.other_side(name)
            for each in (name, across) if across not in entries else (name,):
                found[place_text((section, each))] = bench.log.line((section, name))
    for name, part in read.items():
        found |= _of_shapes(name, part, bench) if part else {}
    return {place: line for place, line in found.items() if line is not None}


def _of_shapes(name: str, part: PartRead, bench: Bench) -> dict[str, int | None]:
    across = bench.mirror.other_side
    found: dict[str, int | None] = {}
    for key, entries in (("meshes", part.meshes), ("shapes", part.shapes)):
        for number, shapes in enumerate(entries):
            line = bench.log.line(("parts", name, key, number))
            for shape in shapes:
                found[shape_place(name, shape.name)] = line
                if bench.mirror.has_twin(name):
                    found[shape_place(across(name), across(shape.name))] = line
    return found
