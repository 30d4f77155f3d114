"""What a browser gets beside the words: the page's program, made of its sources into one file, and its style."""

from __future__ import annotations

import hashlib
from importlib.resources import files

SOURCES, BUILT = "js", "built/page.js"
STYLES = tuple(f"css/{name}.css" for name in ("colours", "sheet", "bench", "map", "tables", "media"))
"""In the order in which a browser reads them: narrow screens and paper, last, go before what holds elsewhere."""


def built_program() -> str:
    """The program as a browser runs it."""
    return asset(BUILT)


def style_sheet() -> str:
    """How the page looks, as one text."""
    return "\n".join(asset(name) for name in STYLES)


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
