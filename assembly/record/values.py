"""Kinds of value that entries of every record are made of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

Point = tuple[float, float, float]
Settings = Mapping[str, float]
VerdictWord = Literal["clear", "fails", "undecided"]
