"""The page's program: its sources, and the one file that is made of them for the browser."""

from __future__ import annotations

import hashlib
from importlib.resources import files

SOURCES, BUILT = "js", "built/page.js"


def built_program() -> str:
    """The program as a browser runs it."""
    return asset(BUILT)


def source_digest() -> str:
    """SHA-256 over all sources by name; the built file says which it was made from."""
    digest = hashlib.sha256()
    folder = files(__package__).joinpath(SOURCES)
    for source in sorted(folder.iterdir(), key=lambda one: one.name):
        digest.update(f"{source.name}\n{source.read_text(encoding='utf-8')}\n".encode())
    return digest.hexdigest()


def asset(name: str) -> str:
    """A text file of this package."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8")
