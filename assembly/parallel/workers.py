"""Tasks handed to workers, one more whenever one is done, and what becomes of them when things go wrong.

A task that a process died of, or had no memory for, is run once more, and alone, so that no other is blamed for it; if
that fails too it is given up and the others go on. When the run is stopped, tasks that are under way are asked to end
and to give what they have.
"""

from __future__ import annotations

import signal
import sys
import threading
import uuid
from collections import deque
from collections.abc import Callable, Collection, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, ProcessPoolExecutor, wait
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass
from functools import partial
from multiprocessing import get_context, parent_process
from pathlib import Path
from typing import Any

from assembly.parallel.context import SharedContext, context_bytes, hold, let_go
from assembly.parallel.tasks import Outcome, Result, StopFile, StopSign, Task, outcome_of
from assembly.temporary import temporary_folder
from assembly.time_limit import check_time, extra_time, time_left
from assembly.working_memory import MemoryShare, keep_to, share_among

START = "fork" if sys.platform == "linux" else "spawn"
"""Forked workers start in 0.05 s with all that the tasks have in common, new interpreters in 4 s without; elsewhere
than on Linux forking is not safe."""
GRACE_S = 5.0
"""So long tasks that are under way may take to end when they are asked to."""
GRACE_SHARE = 0.7
"""Of the extra time after a time limit, in which what is known is told: so long tasks that are under way may take."""
WATCH_S = 0.2
ENDING = [getattr(signal, name) for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
HELD_BACK = [signal.SIGINT, *ENDING]


@dataclass(slots=True, eq=False)
class _Lot:
    """The tasks of one run by number: ``waiting``, to be run ``again`` alone, ``running``, and ``lost``."""

    waiting: deque[int]
    again: deque[int]
    running: dict[Future[Any], int]
    lost: list[int]
    tried: set[int]

    def next(self, most: int) -> int | None:
        """The task to be submitted now; none where the workers have enough to do."""
        if self.again:
            return None if self.running else self.again.popleft()
        return self.waiting.popleft() if self.waiting and len(self.running) < most else None

    def failed(self, number: int) -> None:
        """Take note that a process may have died of this task."""
        (self.lost if number in self.tried else self.again).append(number)
        self.tried.add(number)


class Workers:
    """Workers on ``cores`` processes of this machine, or on the ``executor`` handed in, which is left open."""

    def __init__(self, cores: int, folder: Path, executor: Executor | None = None) -> None:
        self._cores = cores
        self._started = False
        self._folder, self._foreign = folder, executor
        self._own: ProcessPoolExecutor | None = None
        self._source, self._context = SharedContext("", ""), object()
        self._stop = StopFile(str(folder / "stop"))

    @property
    def count(self) -> int:
        """How many tasks are run at once, as things are now."""
        return self._cores

    def give(self, context: object) -> None:
        """Let all tasks from now on have ``context`` in common, as it is when the first is run."""
        key = uuid.uuid4().hex
        self._source, self._context = SharedContext(key, str(self._folder / key)), context
        self._started = False
        hold(self._source, context)

    def _hand_out(self) -> None:
        """Let workers find what all tasks have in common; just before the first."""
        if self._foreign is not None or START != "fork":
            Path(self._source.file).write_bytes(context_bytes(self._context))

    def run(
        self,
        task: Task[Result],
        arguments: Sequence[Callable[[], tuple[Any, ...]]],
        taken: Callable[[int, Result], None],
        after_each: Callable[[], None],
        why: Callable[[BaseException], str],
    ) -> list[int]:
        """Run ``task`` with each of ``arguments``, which are asked for when its turn comes; gives those that were lost.

        ``taken`` gets each task's number and result as it is done, then ``after_each`` is called; what it or
        ``arguments`` raise stops the run, and so does the time limit: tasks that are under way are told ``why``, and
        what they give is taken.
        """
        lot = _Lot(deque(range(len(arguments))), deque(), {}, [], set())
        if not self._started:
            self._hand_out()
            self._started = True
        try:
            while lot.waiting or lot.again or lot.running:
                while (number := lot.next(self.count)) is not None:
                    lot.running[self._submit(task, arguments[number]())] = number
                for future in _first_done(lot):
                    self._take(lot, future, taken)
                after_each()
        except BaseException as error:
            self._wind_up(lot, taken, why(error))
            raise
        return lot.lost

    def _take(self, lot: _Lot, future: Future[Any], taken: Callable[[int, Result], None]) -> None:
        number = lot.running.pop(future)
        try:
            outcome = future.result()
        except Exception:
            lot.failed(number)
            return
        if isinstance(outcome.error, MemoryError):
            lot.failed(number)
        else:
            taken(number, outcome.get())

    def _submit(self, task: Task[Result], arguments: tuple[Any, ...]) -> Future[Any]:
        run = partial(_run, task, self._source, self._stop, arguments)
        if self._foreign is not None:
            return self._foreign.submit(run)
        with _signals_held_back():
            try:
                return self._pool().submit(run)
            except BrokenExecutor:
                # A process died: the pool takes nothing any more, so another takes its place.
                self.close()
                return self._pool().submit(run)

    def _pool(self) -> ProcessPoolExecutor:
        if self._own is None:
            # Other workers may have been given another context meanwhile: forked ones find only the last.
            hold(self._source, self._context)
            self._own = process_pool(self.count, self._folder)
        return self._own

    def _wind_up(self, lot: _Lot, taken: Callable[[int, Result], None], why: str) -> None:
        """Ask the tasks under way to end, and take what they give."""
        self._ask_to_end(why)
        with extra_time(GRACE_SHARE):
            left = time_left()
        grace = GRACE_S if left is None else min(GRACE_S, max(0.0, left.seconds))
        done, late = wait(lot.running, timeout=grace)
        for future in done:
            self._take(lot, future, taken)
        self._give_up(late)

    def _ask_to_end(self, why: str) -> None:
        """Raise the stop sign."""
        part = self._folder / "stop.part"
        part.write_text(why, encoding="utf-8")
        part.replace(self._stop.file)

    def _give_up(self, late: Collection[Future[Any]]) -> None:
        """End tasks that did not end when they were asked to."""
        if late:
            (self._folder / "end").touch()

    def close(self) -> None:
        """End the processes that are ours."""
        if self._own is not None:
            self._own.shutdown(wait=True, cancel_futures=True)
            self._own = None


def _first_done(lot: _Lot) -> set[Future[Any]]:
    """What is done first, waited for no longer than there is time. Raises TimeLimitError."""
    while True:
        left = time_left()
        timeout = None if left is None else max(0.0, left.seconds)
        done, _ = wait(lot.running, timeout, return_when=FIRST_COMPLETED)
        if done:
            return done
        check_time()


Elsewhere = Callable[[Path], Workers]
"""Makes workers that are on other machines, with a temporary folder of this one."""
_ELSEWHERE: ContextVar[Elsewhere | None] = ContextVar("workers on other machines", default=None)


@contextmanager
def working_elsewhere(made_by: Elsewhere) -> Iterator[None]:
    """All ``workers`` of the block are made by ``made_by``, unless they are given an executor."""
    token = _ELSEWHERE.set(made_by)
    try:
        yield
    finally:
        _ELSEWHERE.reset(token)


def works_elsewhere() -> bool:
    """Whether ``workers`` are on other machines here."""
    return _ELSEWHERE.get() is not None


@contextmanager
def workers(cores: int, executor: Executor | None = None) -> Iterator[Workers]:
    """Workers that end with the block."""
    elsewhere = _ELSEWHERE.get()
    with temporary_folder() as folder:
        made = elsewhere(folder) if elsewhere and executor is None else Workers(cores, folder, executor)
        try:
            yield made
        finally:
            let_go()
            made.close()


def process_pool(cores: int, folder: Path) -> ProcessPoolExecutor:
    """``cores`` processes of this machine that end with this one, or once there is a file ``end`` in ``folder``.

    They share the working memory that is allowed here.
    """
    given = (str(folder / "end"), share_among(cores))
    return ProcessPoolExecutor(cores, mp_context=get_context(START), initializer=_make_worker, initargs=given)


@contextmanager
def _signals_held_back() -> Iterator[None]:
    """Processes that are forked in this block are reached by no signal before they are made workers.

    One that was would act on it as the main process does: it would go on with that one's work.
    """
    if START != "fork":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, HELD_BACK)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


def _run(task: Task[Any], source: SharedContext, stop: StopSign, arguments: tuple[Any, ...]) -> Outcome:
    """On a worker: one task."""
    return outcome_of(lambda: task(source.context(), stop, *arguments))


def _make_worker(end: str, memory: MemoryShare) -> None:
    """Ctrl-C reaches every process of the terminal; only the main one acts on it and ends the others.

    What else the main one does with signals (it clears up) is not for its forked workers: they just end.

    Where the main one is killed nobody ends them: they would wait for work for ever, so each looks after itself.
    """
    keep_to(memory)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for number in ENDING:
        signal.signal(number, signal.SIG_DFL)
    if START == "fork":
        signal.pthread_sigmask(signal.SIG_UNBLOCK, HELD_BACK)
    threading.Thread(target=_watch, args=(Path(end),), daemon=True).start()


def _watch(end: Path) -> None:
    """End this process with the main one, or when the main one waits for it no longer."""
    parent = parent_process()
    if parent is not None:
        while parent.is_alive() and not end.exists():
            parent.join(WATCH_S)
        signal.raise_signal(signal.SIGTERM)
