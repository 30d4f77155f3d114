"""Frames as an MP4 film in H.264, which every player and browser shows. The only door to av."""

from __future__ import annotations

from collections.abc import Iterable
from importlib.util import find_spec
from io import BytesIO

import numpy as np
from PIL import Image

INSTALL = "pip install av, or name a file that ends in .gif"
QUALITY = "20"
"""Constant rate factor of the encoder: lower is better and larger, 18 to 23 look clean."""


def mp4_trouble(size: tuple[int, int]) -> tuple[str, str]:
    """Why no film of ``size`` can be made here, and what helps; empty if it can."""
    if find_spec("av") is None:
        return "MP4 needs the library av, which is not installed", INSTALL
    if size[0] % 2 or size[1] % 2:
        even = " × ".join(str(side - side % 2) for side in size)
        return f"an MP4 cannot be {size[0]} × {size[1]} pixels large", f"both must be even, such as {even}"
    return "", ""


def mp4_bytes(frames: Iterable[Image.Image], rate: int) -> bytes:
    """``frames``, so many a second."""
    import av

    data = BytesIO()
    with av.open(data, "w", format="mp4") as film:
        stream = None
        for frame in frames:
            if stream is None:
                stream = film.add_stream("libx264", rate=rate, options={"crf": QUALITY})
                stream.width, stream.height, stream.pix_fmt = *frame.size, "yuv420p"
            film.mux(stream.encode(av.VideoFrame.from_ndarray(np.asarray(frame.convert("RGB")), format="rgb24")))
        if stream is not None:
            film.mux(stream.encode(None))
    return data.getvalue()
