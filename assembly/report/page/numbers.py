"""Large numbers of a page as one block of text: arrays of bytes, deflated, in base64."""

from __future__ import annotations

import base64
import zlib

import numpy as np
from numpy.typing import NDArray

from assembly.time_limit import check_time

KINDS = {"f32": np.float32, "u16": np.uint16, "u32": np.uint32, "u8": np.uint8}
ALIGNED = 4
"""Bytes: a browser looks at numbers only at whole places of their size."""
RAW_DEFLATE = -15

PackedSlice = tuple[str, int, int]
"""Kind, offset in bytes, and how many numbers."""


class Numbers:
    """Arrays one after another, each found again by its place."""

    def __init__(self) -> None:
        self._blocks: list[bytes] = []
        self._size = 0

    def add(self, kind: str, values: NDArray[np.generic]) -> PackedSlice:
        """Put ``values`` at the end, as numbers of ``kind``, little-endian."""
        block = np.ascontiguousarray(values, dtype=np.dtype(KINDS[kind]).newbyteorder("<")).tobytes()
        place = kind, self._size, values.size
        block += bytes(-len(block) % ALIGNED)
        self._blocks.append(block)
        self._size += len(block)
        return place

    def packed(self) -> str:
        """All of it as base64 text. Raises TimeLimitError."""
        deflate = zlib.compressobj(9, zlib.DEFLATED, RAW_DEFLATE)
        packed = []
        for block in self._blocks:
            check_time()
            packed.append(deflate.compress(block))
        return base64.b64encode(b"".join(packed) + deflate.flush()).decode("ascii")
