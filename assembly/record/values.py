"""What entries of every record are made of, and the entry that several studies share."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from pydantic import Field

From = Field(alias="from")
"""Of a field whose key is a word of Python."""
Point = tuple[float, float, float]
Settings = Mapping[str, float]
VerdictWord = Literal["clear", "fails", "undecided"]


@dataclass(frozen=True, slots=True)
class UnsettledEntry:
    """The sweep's answer, and why, to a pair that only it can judge: no single roll of one of its parts was found.

    In a usable range also a measure that a part which can roll bears on; its ``b`` is empty.
    """

    a: str
    b: str
    verdict: VerdictWord
    why: str
