"""The memory that this process and all that it started hold together, looked at again and again by a thread.

Pages that forked processes share are counted once: each process has its share of them (Linux, ``Pss``).
"""

from __future__ import annotations

import os
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

EVERY_S = 0.25
KIB_PER_MIB = 1024


class MemoryWatch:
    """Watches while its block runs; ``peak_mib`` is the most that was seen."""

    def __init__(self) -> None:
        self.peak_mib = 0.0
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)

    def __enter__(self) -> MemoryWatch:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._ended.set()
        self._thread.join()

    def _watch(self) -> None:
        while not self._ended.wait(EVERY_S):
            self.peak_mib = max(self.peak_mib, sum(map(_held_mib, _processes(os.getpid()))))


def _processes(first: int) -> Iterator[int]:
    """A process and all that it started, and what these started."""
    yield first
    with suppress(OSError):
        for task in Path(f"/proc/{first}/task").iterdir():
            for started in (task / "children").read_text(encoding="ascii").split():
                yield from _processes(int(started))


def _held_mib(process: int) -> float:
    """Its own pages, and its share of those that it shares."""
    with suppress(OSError):
        for line in Path(f"/proc/{process}/smaps_rollup").read_text(encoding="ascii").splitlines():
            if line.startswith("Pss:"):
                return int(line.split()[1]) / KIB_PER_MIB
    return 0.0
