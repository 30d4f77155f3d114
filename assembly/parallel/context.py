"""What the tasks of one lot have in common: a worker gets it once and keeps it.

A process that is forked finds it in its memory; any other reads it from a file. Threads share nothing, because what
they have in common grows while they work.
"""

from __future__ import annotations

import pickle
import threading
from dataclasses import dataclass
from io import BytesIO
from pathlib import Path
from types import MappingProxyType
from typing import Any


class _Held(threading.local):
    """What a thread of a worker keeps."""

    key: str = ""
    context: object = None

    def hold(self, key: str, context: object) -> None:
        """Keep ``context`` in the place of any other."""
        self.key, self.context = key, context


_HELD = _Held()


@dataclass(frozen=True, slots=True)
class SharedContext:
    """The name of what tasks have in common, and the file from which those read it that do not have it yet."""

    key: str
    file: str

    def context(self) -> Any:
        """It, from this thread's memory or the file."""
        if _HELD.key != self.key:
            _HELD.hold(self.key, pickle.loads(Path(self.file).read_bytes()))  # noqa: S301 - our own file
        return _HELD.context


def hold(source: SharedContext, context: object) -> None:
    """Keep ``context`` for the processes that this thread forks from now on."""
    _HELD.hold(source.key, context)


def received(key: str, packed: bytes) -> Any:
    """What was packed under ``key``, from this thread's memory or the bytes."""
    if _HELD.key != key:
        _HELD.hold(key, pickle.loads(packed))  # noqa: S301 - of a program that was shown to be ours
    return _HELD.context


def let_go() -> None:
    """Keep nothing any more."""
    _HELD.hold("", None)


def context_bytes(context: object) -> bytes:
    """``context`` as bytes; mappings that cannot be written to are taken along too."""
    stream = BytesIO()
    _Pickler(stream, protocol=pickle.HIGHEST_PROTOCOL).dump(context)
    return stream.getvalue()


class _Pickler(pickle.Pickler):
    def reducer_override(self, value: object) -> Any:
        return (_read_only, (dict(value),)) if isinstance(value, MappingProxyType) else NotImplemented


def _read_only(entries: dict[Any, Any]) -> MappingProxyType[Any, Any]:
    return MappingProxyType(entries)
