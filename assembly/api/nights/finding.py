"""Mechanism files under folders; whatever is left out is named, never dropped."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from assembly.errors import Fault, InputError
from assembly.geometry.regular import regular_bytes
from assembly.model.source import MOST_BYTES
from assembly.printable import is_utf8
from assembly.record import run_name
from assembly.report.text.words import count

FORMAT_LINE = re.compile(r"^\s*format\s*=", re.MULTILINE)
PARTS_TABLE = re.compile(r"^\s*(\[\s*)?parts\s*[.\]=]", re.MULTILINE)


@dataclass(frozen=True, slots=True)
class MechanismFile:
    """One file to check, and what its folder of results is called, unlike that of any other."""

    path: Path
    name: str


@dataclass(frozen=True, slots=True)
class MechanismFiles:
    """``files`` in the order of their paths, ``others``: TOML files about something else, ``faults``: unreadable."""

    files: tuple[MechanismFile, ...]
    others: tuple[Path, ...]
    faults: tuple[tuple[Path, str], ...]


def find_mechanisms(places: Iterable[Path]) -> MechanismFiles:
    """Every TOML file in and below ``places`` (folders, or files) that has a ``format`` and ``parts``.

    A broken file that has both is one of them: what is wrong with it is for its reader to tell. Folders whose
    names begin with a point are passed over.
    """
    faults: list[tuple[Path, str]] = []
    paths: dict[Path, Path] = {}
    for place in places:
        for path in sorted(_toml_files(place, faults)):
            try:
                paths.setdefault(path.resolve(), path)
            except (OSError, RuntimeError) as error:
                faults.append((path, f"cannot be read: {getattr(error, 'strerror', None) or 'a link leads to itself'}"))
    files: list[Path] = []
    others: list[Path] = []
    for path in paths.values():
        if not is_utf8(str(path)):
            faults.append((path, "its name is not UTF-8; give it one that is"))
            continue
        try:
            text = regular_bytes(path, MOST_BYTES).decode("utf-8", "replace")
        except (OSError, ValueError) as error:
            faults.append((path, f"cannot be read: {getattr(error, 'strerror', None) or error}"))
        else:
            (files if FORMAT_LINE.search(text) and PARTS_TABLE.search(text) else others).append(path)
    return MechanismFiles(tuple(_named(files)), tuple(others), tuple(faults))


def some_mechanisms(places: Sequence[Path]) -> MechanismFiles:
    """As ``find_mechanisms``. Raises InputError if there is neither a file nor a place that cannot be read."""
    found = find_mechanisms(places)
    if not found.files and not found.faults:
        seen = f" ({count(len(found.others), 'other TOML file')})" if found.others else ""
        hint = "a mechanism file is a .toml with `format = 1` and `[parts...]`"
        raise InputError(Fault(f"there is no mechanism file in {', '.join(map(str, places))}{seen}", hint=hint))
    return found


def _toml_files(place: Path, faults: list[tuple[Path, str]]) -> Iterator[Path]:
    def unreadable(error: OSError) -> None:
        faults.append((Path(error.filename or place), f"cannot be read: {error.strerror or error}"))

    if place.is_file():
        yield place
        return
    for folder, below, names in os.walk(place, onerror=unreadable):
        below[:] = sorted(name for name in below if not name.startswith("."))
        yield from (Path(folder) / name for name in names if name.endswith(".toml"))


def _named(paths: Iterable[Path]) -> Iterator[MechanismFile]:
    """The file's own name; with its folder's before it, and then a number, where that is taken."""
    taken: set[str] = set()
    for path in paths:
        own = run_name(path)
        name, number = own, 1
        while name.casefold() in taken:
            name = f"{path.resolve().parent.name}_{own}" + (f"_{number}" if number > 1 else "")
            number += 1
        taken.add(name.casefold())
        yield MechanismFile(path, name)
