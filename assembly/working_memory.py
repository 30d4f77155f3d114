"""How much memory stacks of postures may take while they are worked on: half of what is free, unless it is said.

Workers share it: each is told its part when it is started, however that is done. The size of a stack never decides what
comes out of it. Results that are kept, and the solids, are not counted.
"""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from assembly.errors import Fault, InputError

UNITS = {"B": 1, "kB": 10**3, "MB": 10**6, "GB": 10**9}
SHARE = 0.5
"""Of what is free when it is first asked."""
MOST_OF_A_STACK = 500 * 10**6
"""Bytes of one stack, however much is free: a larger one gains nothing, and the clock is looked at between stacks."""
UNKNOWN_FREE = 2 * 10**9
"""Bytes taken to be free where the system does not tell."""
_MEMINFO = Path("/proc/meminfo")
_CGROUP = Path("/sys/fs/cgroup")


@dataclass(frozen=True, slots=True)
class MemoryShare:
    """The even share of ``whole`` bytes that one of ``among`` processes has."""

    whole: int
    among: int = 1


_limit: ContextVar[MemoryShare | None] = ContextVar("working memory", default=None)


@contextmanager
def limited_to(limit: int) -> Iterator[None]:
    """What is done here, and by the workers that it starts, together keeps its stacks within ``limit`` bytes."""
    token = _limit.set(MemoryShare(limit))
    try:
        yield
    finally:
        _limit.reset(token)


def share_among(count: int) -> MemoryShare:
    """What each of ``count`` workers of this process may take: it works little while they do, and has no share."""
    own = _allowed()
    return MemoryShare(own.whole, own.among * count)


def keep_to(share: MemoryShare) -> None:
    """Let this process, a worker, keep its stacks within its ``share`` from now on."""
    _limit.set(share)


def _allowed() -> MemoryShare:
    return _limit.get() or MemoryShare(int(SHARE * _free()))


def own_share(whole: int) -> int:
    """Of ``whole`` bytes that all processes together may keep, what this one may."""
    return whole // _allowed().among


def at_once(bytes_each: int, most: int | None = None) -> int:
    """How many things of ``bytes_each`` may be worked on as one stack, at the most ``most``.

    One may be, even by a worker whose share it exceeds: no result depends on how many share the memory. Raises
    InputError where the memory of all does not hold one.
    """
    allowed = _allowed()
    if bytes_each > allowed.whole:
        raise InputError(
            Fault(
                f"one posture of this machine takes {size_text(bytes_each)} to work on, "
                f"and {size_text(allowed.whole)} are allowed",
                hint=f"allow more: --memory {size_text(2 * bytes_each).replace(' ', '')}; "
                "without it half of the free memory may be taken",
            )
        )
    fitting = max(1, min(allowed.whole // allowed.among, MOST_OF_A_STACK) // max(bytes_each, 1))
    return fitting if most is None else min(fitting, most)


def size_text(size: int) -> str:
    """A size of memory in words, rounded up to two digits."""
    unit = next(name for name in reversed(UNITS) if size >= UNITS[name] or name == "B")
    number = size / UNITS[unit]
    return f"{number:z.2g} {unit}" if number < 99.5 else f"{number:z.0f} {unit}"


@cache
def _free() -> int:
    """Bytes that may still be taken: of the whole system, or of the group of processes that this one is in."""
    return min(_of_system(), _of_group())


def _of_system() -> int:
    try:
        lines = dict(line.split(":", 1) for line in _MEMINFO.read_text(encoding="ascii").splitlines())
        return 1024 * int(lines["MemAvailable"].split()[0])
    except (OSError, ValueError, KeyError):
        return _physical()


def _physical() -> int:
    try:
        return int(os.sysconf("SC_PHYS_PAGES")) * int(os.sysconf("SC_PAGE_SIZE"))
    except (AttributeError, ValueError, OSError):
        return UNKNOWN_FREE


def _of_group() -> int:
    """Bytes left in a container with a limit of its own (cgroup v2)."""
    try:
        limit, used = ((_CGROUP / name).read_text(encoding="ascii") for name in ("memory.max", "memory.current"))
        return max(int(limit) - int(used), 0)
    except (OSError, ValueError):
        return _of_system()
