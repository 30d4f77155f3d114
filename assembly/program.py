"""What computed: this program to the letter, the libraries that its numbers depend on, and the kind of machine."""

from __future__ import annotations

import hashlib
import platform
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path

LIBRARIES = ("numpy", "scipy", "python-fcl", "manifold3d", "trimesh", "networkx", "shapely")
SHOWS = ("vtk", "pyvista", "pillow", "pydantic", "tomli")
COMPUTES = (
    "parallel",
    "geometry",
    "record",
    "model",
    "strength",
    "kinematics",
    "statics",
    "clearance",
    "studies",
    "cache",
)
"""Folders of this package whose sources decide what is found of a pair, and how it is kept."""


@cache
def program_digest() -> str:
    """A digest of all of it: what another one kept is never taken for this one's."""
    digest = _sources()
    kinds = platform.machine(), platform.processor(), platform.system(), platform.python_version()
    digest.update("\n".join([*kinds, *(f"{name} {_version(name)}" for name in LIBRARIES)]).encode())
    return digest.hexdigest()


@cache
def whole_program_digest() -> str:
    """A digest of every source of this package, of what shows results as well, and of the libraries that draw."""
    digest, root = hashlib.sha256(program_digest().encode()), Path(__file__).resolve().parent
    for path in sorted(root.rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    digest.update("\n".join(f"{name} {_version(name)}" for name in ("swingroom", *SHOWS)).encode())
    return digest.hexdigest()


@cache
def program_facts() -> dict[str, str]:
    """What must be alike wherever one sweep is computed: the program, its very sources, and libraries by version."""
    named = ("swingroom", *LIBRARIES)
    return {
        "sources of swingroom": _sources().hexdigest()[:12],
        **{name: _version(name) or "missing" for name in named},
        "Python": ".".join(platform.python_version_tuple()[:2]),
    }


def _sources() -> hashlib._Hash:
    digest, root = hashlib.sha256(), Path(__file__).resolve().parent
    for path in sorted(path for folder in COMPUTES for path in (root / folder).rglob("*.py")):
        digest.update(path.relative_to(root).as_posix().encode() + b"\0" + path.read_bytes() + b"\0")
    return digest


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return ""
