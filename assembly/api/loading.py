"""Reading a mechanism file: apart from the questions, so that a file with faults is refused without loading these."""

from __future__ import annotations

from pathlib import Path

from assembly.geometry.mesh_size import largest_mesh as largest_mesh
from assembly.model.machine import Machine
from assembly.model.reader import read_machine


def load(path: str | Path) -> Machine:
    """Read the machine in a mechanism file.

    Parameters
    ----------
    path : str or Path
        The file; mesh files are looked for beside it.

    Returns
    -------
    Machine
        As drawn: mm, axes x forward, y left, z up (ISO 8855). Arrays of a mesh are (n, 3).

    Raises
    ------
    InputError
        With every fault of the file, each with line and place.

    """
    return read_machine(Path(path))
