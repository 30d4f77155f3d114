"""Tasks whose results are all needed, each with what they have in common: on workers, or one by one in this process."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import BrokenExecutor
from dataclasses import dataclass
from functools import partial
from typing import Any, TypeVar

from assembly.errors import TimeLimitError
from assembly.parallel.tasks import StopSign
from assembly.parallel.workers import Workers
from assembly.progress import Progress
from assembly.time_limit import TimeLeft, check_time, ended_by, time_left, time_limit

LOST = "a process that did a part of the work died, perhaps for want of memory"
STOPPED_BY_HAND = "stopped by hand"

Result = TypeVar("Result")


@dataclass(frozen=True, slots=True)
class _CutShort:
    """Given in the place of a result by a task that was ended early: why, in words."""

    told: str


class EveryResult:
    """Runs tasks that have ``context`` in common on ``hands``, in this process if there are none."""

    def __init__(self, context: Any, hands: Workers | None, progress: Progress) -> None:
        self._context, self._hands, self._progress = context, hands, progress
        if hands is not None:
            hands.give(context)

    @property
    def count(self) -> int:
        """How many tasks are run at once."""
        return 1 if self._hands is None else self._hands.count

    def of(self, task: Callable[..., Result], arguments: Sequence[tuple[Any, ...]], stage: str = "") -> list[Result]:
        """What ``task`` gives with the context and each of ``arguments``, in their order.

        ``stage`` names the work in what the progress is told. Raises what a task raised; TimeLimitError once the time
        is over, in whatever process that is seen; BrokenExecutor, once all others are done, where a process died of
        the same task twice.
        """
        found: dict[int, Any] = {}
        if self._hands is None or not arguments:
            for number, own in enumerate(arguments):
                self._tell(stage, number, len(arguments))
                found[number] = task(self._context, *own)
            return [found[number] for number in range(len(arguments))]
        asked = [partial(_asked, task, own) for own in arguments]
        told = partial(self._tell_of, stage, found, len(arguments))
        lost = self._hands.run(_in_time, asked, found.__setitem__, told, _why)
        if lost:
            raise BrokenExecutor(LOST)
        for one in found.values():
            if isinstance(one, _CutShort):
                raise TimeLimitError.because(one.told)
        return [found[number] for number in range(len(arguments))]

    def _tell_of(self, stage: str, found: dict[int, Any], every: int) -> None:
        self._tell(stage, len(found), every)

    def _tell(self, stage: str, done: int, every: int) -> None:
        if stage:
            self._progress(stage, done, every)


def _asked(
    task: Callable[..., Any], arguments: tuple[Any, ...]
) -> tuple[Callable[..., Any], tuple[Any, ...], TimeLeft | None]:
    check_time()
    return task, arguments, time_left()


def _in_time(
    context: Any, stop: StopSign, task: Callable[..., Any], arguments: tuple[Any, ...], left: TimeLeft | None
) -> Any:
    """On a worker: one task, until the stop sign is raised or the time that is ``left`` is over."""
    seconds, asked = (left.seconds, left.asked) if left is not None else (None, None)
    try:
        with time_limit(seconds, asked=asked), ended_by(stop.read):
            return task(context, *arguments)
    except TimeLimitError as error:
        return _CutShort(error.told)


def _why(error: BaseException) -> str:
    return error.told if isinstance(error, TimeLimitError) else STOPPED_BY_HAND
