"""The result cache of pairs, and of ways of drives, on disk: what is known of each as packed JSON.

Whatever goes wrong with it costs time only: it is said, and the sweep goes on.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager, suppress
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from assembly.cache.sealed_rows import Say, SealedRows
from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Exclusion
from assembly.clearance.proof.cached import CachedPair, PairFound
from assembly.clearance.region.run_out import RunOut
from assembly.record.jsonform import made_of, plain

Known = TypeVar("Known")

NOBODY = CheckedPair("", "", 0.0, Exclusion(""), Exclusion(""), rigidly_coupled=False)
"""Names are not kept: the same result may belong to parts of other names. Who recalls it puts its pair there."""


def packed(known: CachedPair) -> bytes:
    """What is known of a pair as bytes."""
    found = {depth: _nameless(one) for depth, one in known.found.items()}
    return zlib.compress(json.dumps(plain(replace(known, found=found))).encode(), 1)


def unpacked(data: bytes) -> CachedPair:
    """What ``packed`` made bytes of. Raises ValueError or zlib.error on anything else."""
    return made_of(CachedPair, zlib.decompress(data))


def packed_end(end: RunOut) -> bytes:
    """What ends a way as bytes."""
    return json.dumps(plain(end)).encode()


def unpacked_end(data: bytes) -> RunOut:
    """What ``packed_end`` made bytes of. Raises ValueError on anything else."""
    return made_of(RunOut, data)


def packed_figure(known: object) -> bytes:
    """A value of plain dataclasses, tuples, numbers and texts as bytes."""
    return zlib.compress(json.dumps(plain(known)).encode(), 1)


def unpacked_figure(data: bytes, kind: type[Known]) -> Known:
    """What ``packed_figure`` made bytes of. Raises ValueError or zlib.error on anything else."""
    return made_of(kind, zlib.decompress(data))


def _nameless(found: PairFound) -> PairFound:
    return replace(found, result=replace(found.result, pair=NOBODY))


@contextmanager
def open_memory(path: Path | None, say: Say, *, anew: bool = False) -> Iterator[DiskMemory | None]:
    """The memory at ``path``, None if there is to be none; ``anew``: it recalls nothing.

    ``say`` is reported, in a line, what cannot be recalled or kept.
    """
    if path is None:
        yield None
        return
    memory = DiskMemory(path, say, anew=anew)
    with closing(memory):
        yield memory


class DiskMemory:
    """What is known of pairs and ways by key, on disk. Never raises: what cannot be recalled is computed."""

    def __init__(self, path: Path, say: Say, *, anew: bool = False) -> None:
        self._kept = SealedRows(path, say, anew=anew)

    def close(self) -> None:
        """Let go of the file."""
        self._kept.close()

    def look_up(self, keys: Sequence[str]) -> Mapping[str, CachedPair]:
        """What is known by these keys; those that are not known are left out."""
        return self._read(keys, unpacked)

    def keep(self, known: Mapping[str, CachedPair]) -> None:
        """Note what is known by these keys, and that what was recalled is still of use; in one transaction."""
        self._kept.keep({key: packed(one) for key, one in known.items()})

    def look_up_ends(self, keys: Sequence[str]) -> Mapping[str, RunOut]:
        """What is known to end the ways of these keys; those that are not known are left out."""
        return self._read(keys, unpacked_end)

    def keep_ends(self, known: Mapping[str, RunOut]) -> None:
        """Note what ends the ways of these keys, as ``keep`` does."""
        self._kept.keep({key: packed_end(one) for key, one in known.items()})

    def look_up_figures(self, keys: Sequence[str], kind: type[Known]) -> Mapping[str, Known]:
        """The values of this ``kind`` by these keys; those that are not known are left out."""
        return self._read(keys, partial(unpacked_figure, kind=kind))

    def keep_figures(self, known: Mapping[str, object]) -> None:
        """Note the values of these keys, as ``keep`` does."""
        self._kept.keep({key: packed_figure(one) for key, one in known.items()})

    def _read(self, keys: Sequence[str], unpack: Callable[[bytes], Known]) -> dict[str, Known]:
        """The rows that can be read; each is of use from now on."""
        found: dict[str, Known] = {}
        for key, data in self._kept.look_up(keys):
            with suppress(ValueError, LookupError, TypeError, zlib.error, RecursionError):
                found[key] = unpack(data)
                self._kept.used(key)
        return found
