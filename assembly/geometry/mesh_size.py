"""The bytes of mesh files, and how many one may have; light to load."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from pathlib import Path

from assembly.geometry.regular import regular_bytes

MOST_BYTES = 1_000_000_000
"""The largest mesh file that is read where nothing else is asked for: 20 million facets of binary STL."""
_most_bytes = ContextVar("_most_bytes", default=MOST_BYTES)


@contextmanager
def largest_mesh(size: int) -> Iterator[None]:
    """Mesh files that are read inside may have up to ``size`` bytes."""
    before = _most_bytes.set(size)
    try:
        yield
    finally:
        _most_bytes.reset(before)


def largest_now() -> int:
    """How many bytes a mesh file may have here."""
    return _most_bytes.get()


def mesh_bytes(path: Path) -> bytes:
    """The bytes of a mesh file; OSError where it is no regular file within ``largest_mesh``, ValueError as open."""
    return regular_bytes(path, largest_now())
