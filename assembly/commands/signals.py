"""Signals that end a command: its temporary folders go and no file stays half written, as after Ctrl-C."""

from __future__ import annotations

import signal
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

ENDING = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
"""What ends a process at a shutdown or a time limit of others, and where the terminal is closed."""


class EndedBySignal(BaseException):
    """A signal asks this process to end; nothing but what has to be cleared away is done after it."""

    def __init__(self, number: int) -> None:
        super().__init__(number)
        self.number = number

    @property
    def status(self) -> int:
        """The exit status, as shells give it for a signal."""
        return 128 + self.number

    @property
    def line(self) -> str:
        """What happened."""
        return f"ended by {signal.Signals(self.number).name}; no file is half written"


@contextmanager
def ended_by_signals() -> Iterator[None]:
    """As long as it is open these signals raise, so that every block that is open is left as it should be.

    One that is ignored (``nohup``), or that whoever calls has a use for, stays as it is.
    """
    own = []
    if threading.current_thread() is threading.main_thread():
        own = [number for number in ENDING if signal.getsignal(number) is signal.SIG_DFL]
    for number in own:
        signal.signal(number, _end)
    try:
        yield
    finally:
        for number in own:
            signal.signal(number, signal.SIG_DFL)


def _end(number: int, _frame: FrameType | None) -> None:
    raise EndedBySignal(number)
