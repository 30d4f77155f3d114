"""The time that a command, or a part of it, may take: looked at inside every loop that can be long.

The limit is that of the block in which the work is done, so that what solves, bounds and measures need not be handed it
from every side. A loop looks at the clock between steps, never while figures are half changed: what ends so is as whole
as what is stopped by hand.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from concurrent.futures import Future
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from typing import TypeVar

from assembly.errors import TimeLimitError

Clock = Callable[[], float]
Result = TypeVar("Result")

EXTRA_S, EXTRA_SHARE = 0.4, 0.05
"""How much longer, in s and as a share of the limit, is worked on what is needed to tell what is known by then."""


@dataclass(frozen=True, slots=True)
class _Limit:
    """``seconds`` as they were asked for, and when they are over by ``clock``."""

    seconds: float
    ends: float
    clock: Clock
    extra: bool = False


_LIMIT: ContextVar[_Limit | None] = ContextVar("time limit", default=None)

LOOK_S = 0.1
"""s between two looks at a sign that says to end."""


@dataclass(slots=True, eq=False)
class _EndSign:
    """Says, once it is raised, why all that is done here should end; looked at now and then."""

    read: Callable[[], str]
    looked: float = 0.0

    def check(self) -> None:
        now = time.monotonic()
        if now - self.looked >= LOOK_S:
            self.looked = now
            if why := self.read():
                raise TimeLimitError.because(why)


_END_SIGN: ContextVar[_EndSign | None] = ContextVar("sign to end", default=None)


@contextmanager
def time_limit(seconds: float | None, clock: Clock | None = None, asked: float | None = None) -> Iterator[None]:
    """Whatever looks at the clock in this block ends after ``seconds``, or with a limit round it that ends sooner.

    None sets no limit. ``clock``: seconds, that of the limit round it by default, else the system's steady one.
    ``asked``: what the limit is reported as, where ``seconds`` are what is left of it.
    """
    outer = _LIMIT.get()
    if seconds is None:
        yield
        return
    watch = clock or (outer.clock if outer else time.monotonic)
    own = _Limit(asked or seconds, watch() + seconds, watch)
    with _limited(outer if outer is not None and outer.ends <= own.ends else own):
        yield


@contextmanager
def extra_time(share: float = 1.0) -> Iterator[None]:
    """A little more time, for what must be known before anything can be reported, or makes what is reported of use.

    ``share``: how much of it, where others need the rest. It is given once; a block inside gets no more.
    """
    limit = _LIMIT.get()
    if limit is None or limit.extra:
        yield
        return
    more = share * (EXTRA_S + EXTRA_SHARE * limit.seconds)
    with _limited(replace(limit, ends=limit.ends + more, extra=True)):
        yield


@contextmanager
def time_set_aside(share: float, at_most: float) -> Iterator[None]:
    """Less time: a ``share`` of the limit, ``at_most`` so many seconds, is left for what comes after this block."""
    limit = _LIMIT.get()
    if limit is None:
        yield
        return
    with _limited(replace(limit, ends=limit.ends - min(at_most, share * limit.seconds))):
        yield


@contextmanager
def untimed() -> Iterator[None]:
    """No limit: for the last short steps, without which what is known would be lost."""
    with _limited(None):
        yield


@contextmanager
def ended_by(read: Callable[[], str]) -> Iterator[None]:
    """Whatever looks at the clock in this block ends too, with TimeLimitError, once ``read`` gives a reason to end."""
    token = _END_SIGN.set(_EndSign(read))
    try:
        yield
    finally:
        _END_SIGN.reset(token)


def check_time(needed: float = 0.0) -> None:
    """Raise TimeLimitError once the time is over, or less than the ``needed`` seconds of it are left.

    For what cannot be ended half done, such as a picture, say what it needs.
    """
    limit, sign = _LIMIT.get(), _END_SIGN.get()
    if limit is not None and limit.clock() > limit.ends - needed:
        raise TimeLimitError.after(limit.seconds)
    if sign is not None:
        sign.check()


def out_of_time() -> str:
    """Why no more is done, in words, where ``check_time`` would raise; nothing while there is time."""
    limit = _LIMIT.get()
    over = limit is not None and limit.clock() > limit.ends
    return TimeLimitError.after(limit.seconds).told if limit is not None and over else ""


@dataclass(frozen=True, slots=True)
class TimeLeft:
    """``seconds`` that are left of a limit that was ``asked`` for, to be handed to another process."""

    asked: float
    seconds: float


def time_left() -> TimeLeft | None:
    """What is left of the limit now; None if there is none."""
    limit = _LIMIT.get()
    return None if limit is None else TimeLeft(limit.seconds, limit.ends - limit.clock())


def result_in_time(future: Future[Result]) -> Result:
    """What ``future`` gives, waited for no longer than there is time. Raises TimeLimitError."""
    limit = _LIMIT.get()
    if limit is None:
        return future.result()
    while True:
        try:
            return future.result(timeout=max(0.0, limit.ends - limit.clock()))
        except TimeoutError:
            if future.done():
                return future.result()
            check_time()


@contextmanager
def _limited(limit: _Limit | None) -> Iterator[None]:
    token = _LIMIT.set(limit)
    try:
        yield
    finally:
        _LIMIT.reset(token)
