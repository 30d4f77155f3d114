"""The two streams of a command: one that cannot be written to costs neither the other nor any file, and is reported."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from typing import TextIO, cast

CLOSED = "it is closed"


class GuardedStream(io.TextIOBase):
    """A stream that never raises: what fails first is kept in ``trouble``, and all that comes after it is dropped.

    A reader that closes its end early, such as `head`, has seen what it wanted: that is no trouble. ``stream`` is None
    where the process was started without it.
    """

    def __init__(self, stream: TextIO | None) -> None:
        self._stream = stream
        self._dropping = False
        self.trouble = ""

    def write(self, text: str) -> int:
        """Write, or drop it."""
        if not isinstance(text, str):
            raise TypeError(f"text is written here, not {type(text).__name__}")
        if self._stream is None:
            self.trouble = CLOSED
        elif not self._dropping:
            with self._watched(self._stream):
                self._stream.write(text)
        return len(text)

    def flush(self) -> None:
        """Hand on what is still held back."""
        if self._stream is not None and not self._dropping:
            with self._watched(self._stream):
                self._stream.flush()

    def isatty(self) -> bool:
        """Whether a terminal shows it."""
        return self._stream is not None and self._stream.isatty()

    def fileno(self) -> int:
        """The number that the system knows it by."""
        return super().fileno() if self._stream is None else self._stream.fileno()

    def writable(self) -> bool:
        """It always takes what it is given."""
        return True

    @property
    def encoding(self) -> str:  # type: ignore[override]  # the base declares an attribute where it has a property
        """How signs become bytes."""
        return getattr(self._stream, "encoding", None) or "utf-8"

    @contextmanager
    def _watched(self, stream: TextIO) -> Iterator[None]:
        try:
            yield
        except (OSError, ValueError) as error:
            self._dropping = True
            if not isinstance(error, BrokenPipeError):
                self.trouble = getattr(error, "strerror", None) or str(error)
            _to_nowhere(stream)


@dataclass(frozen=True, slots=True)
class Streams:
    """Both of them, guarded."""

    out: GuardedStream
    err: GuardedStream


@contextmanager
def guarded_streams() -> Iterator[Streams]:
    """Guards in the place of ``sys.stdout`` and ``sys.stderr``, as long as it is open."""
    _fill_descriptors()
    before = sys.stdout, sys.stderr
    for stream in before:
        with suppress(AttributeError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]  # None, and a test's stream, lack it
    streams = Streams(*map(GuardedStream, before))
    sys.stdout, sys.stderr = cast(TextIO, streams.out), cast(TextIO, streams.err)
    try:
        yield streams
    finally:
        streams.out.flush()
        streams.err.flush()
        sys.stdout, sys.stderr = before


def _fill_descriptors() -> None:
    """Open nothing in the place of a closed stream: else a file of ours got its number, and what is meant for it.

    Numbers are given out from the lowest that is free.
    """
    for number in range(3):
        try:
            os.fstat(number)
        except OSError:
            os.open(os.devnull, os.O_RDWR)


def _to_nowhere(stream: TextIO) -> None:
    """What ``stream`` still holds would fail once more when the process ends."""
    with suppress(OSError, ValueError):
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)
