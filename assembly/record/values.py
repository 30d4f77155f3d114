"""Kinds of value that entries of every record are made of."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Literal

from pydantic import Field

From = Field(alias="from")
"""Of a field whose key is a word of Python."""
Point = tuple[float, float, float]
Settings = Mapping[str, float]
VerdictWord = Literal["clear", "fails", "undecided"]
