"""The tables of ``[cables]`` and ``[splitters]`` as written."""

from __future__ import annotations

from typing import Annotated, Any, ClassVar

from assembly.model.plain_values import number_or
from assembly.model.schema import Name, Number, StrictTable, TwoNumbers

TO_CUT = "to cut"
"""What stands for the length of an outer that is not cut yet."""
OUTER_HINT = 'write the mm of hose from end to end, or "to cut" where it is still to be cut'
Outer = Annotated[float | str, number_or("the length of an outer", OUTER_HINT)]


class RunTable(StrictTable):
    """One stretch of a cable."""

    called: ClassVar[str] = "a run of a cable"
    through: list[Any]
    outer: Outer | None = None
    bend: Number | None = None
    diameter: Number | None = None
    slack: Number | None = None


class CableTable(StrictTable):
    """A cable."""

    called: ClassVar[str] = "a cable"
    runs: list[Any]
    inner: Number | None = None
    slack: Number | None = None
    free_play: Number | None = None
    full_pull: Number | None = None
    friction: Number | None = None


class SplitterTable(StrictTable):
    """What shares a pull between two cables."""

    called: ClassVar[str] = "a splitter"
    to: list[Name]
    pulls: TwoNumbers
    arms: TwoNumbers | None = None
    tilt: Number | None = None
    travel: Number | None = None
    force: Number | None = None
