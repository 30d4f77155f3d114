"""Rows of variants that were finished, kept at once, so that a run that was killed goes on where it ended.

One line for each: a digest of the line by which it is told whether it is whole and of this very program, the key of all
that the row depends on, and the row. What cannot be read is computed again.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.model.machine import Machine
from assembly.model.variation import Variable
from assembly.program import program_digest
from assembly.record import VariantEntry
from assembly.record.jsonform import made_of, plain

SEAL_BYTES = 16


def row_key(machine: Machine, values: Mapping[Variable, float], effort: Effort, *, stops: bool) -> str:
    """The key of a row: the machine's files, what was changed in them, and how closely pairs are closed in on."""
    numbers = sorted((list(map(str, one.place)), value) for one, value in values.items())
    before = sorted((name, str(value)) for name, value in machine.changed.items())
    moved = sorted((list(map(str, place)), value) for place, value in machine.moved.items())
    asked = effort.bracket_mm, effort.bracket_share, effort.interest_mm, stops
    text = json.dumps([sorted(machine.digests.items()), before, moved, numbers, asked])
    return hashlib.sha256(f"{program_digest()} {text}".encode()).hexdigest()


@dataclass(slots=True)
class KeptRows:
    """The rows in the file at ``path``, by key; none where there is no file, or it is to be begun anew.

    ``trouble``: why nothing more could be written, which costs time only.
    """

    path: Path | None
    anew: bool = False
    trouble: str = ""
    _rows: dict[str, VariantEntry] = field(default_factory=dict)
    _whole: bool = True

    def __post_init__(self) -> None:
        if self.path is not None and not self.anew and self.path.is_file():
            try:
                data = self.path.read_bytes()
            except OSError as error:
                self.trouble = error.strerror or str(error)
                return
            self._whole = data.endswith(b"\n") or not data
            self._rows = dict(filter(None, map(_read, data.split(b"\n"))))

    def known(self, key: str) -> VariantEntry | None:
        """The row of that key."""
        return self._rows.get(key)

    def keep(self, key: str, row: VariantEntry) -> None:
        """Add a row to the file, lastingly."""
        if self.path is None or self.trouble:
            return
        text = json.dumps(plain(replace(row, number=0)), separators=(",", ":")).encode()
        line = b"\n" * (not self._whole) + b" ".join((_seal(key.encode() + text), key.encode(), text)) + b"\n"
        try:
            with self.path.open("wb" if self.anew else "ab") as file:
                file.write(line)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            self.trouble = error.strerror or str(error)
        self.anew, self._whole = False, True


def _seal(content: bytes) -> bytes:
    key = program_digest().encode()[: hashlib.blake2b.MAX_KEY_SIZE]
    return hashlib.blake2b(content, key=key, digest_size=SEAL_BYTES).hexdigest().encode()


def _read(line: bytes) -> tuple[str, VariantEntry] | None:
    """Key and row of a line; None of one that is not whole, was altered, or is of another program."""
    pieces: Sequence[bytes] = line.split(b" ", 2)
    if len(pieces) != 3:
        return None
    seal, key, text = pieces
    if not hmac.compare_digest(seal, _seal(key + text)):
        return None
    try:
        return key.decode("ascii"), made_of(VariantEntry, text)
    except ValueError:
        return None
