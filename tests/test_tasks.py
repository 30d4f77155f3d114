"""Pairs searched as tasks: the same to the last bit on any number of workers, and honest whatever ends a worker.

The oracle of all figures is the sweep in one process, in which every pair is searched together with all others.
"""

import os
import signal
import subprocess
import sys
import time
from concurrent.futures import Executor, Future
from functools import cache
from pathlib import Path

import pytest
from clocks import Clock
from small_machines import quiet
from test_recalled import STARTER, STRIKING, Remembered, alone, findings, machine
from tries import first

from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof import handed_out, search_task, task_groups
from assembly.clearance.proof.handed_out import LOST
from assembly.errors import TimeLimitError
from assembly.parallel.workers import workers
from assembly.studies.sweep.check import check
from assembly.time_limit import time_limit

SLACK_S = 20.0
"""For a machine that is busy with other things; ``sleeps`` takes three times as long."""
DEADLY = ("rod", "arm")


@pytest.fixture(autouse=True)
def _however_little_there_is_to_do(monkeypatch):
    monkeypatch.setattr(task_groups, "WORTH_WORKERS", -1.0)


def swept(text, cores=1, executor=None, progress=quiet, memory=None, **effort):
    return check(machine(text), Effort(cores=cores, **effort), progress, executor, memory)


class Here(Executor):
    """Runs each task at once, in this process, as any executor may."""

    def __init__(self):
        self.tasks = 0

    def submit(self, task, /, *arguments, **named):
        self.tasks += 1
        future = Future()
        future.set_result(task(*arguments, **named))
        return future


class Late(Here):
    """Runs the task of one number at 9 s, as if that had waited long for its turn; then it is ``after`` s."""

    def __init__(self, number, clock, after):
        super().__init__()
        self.number, self.clock, self.after = number, clock, after

    def submit(self, task, /, *arguments, **named):
        late = self.tasks + 1 == self.number
        self.clock.now = 9.0 if late else self.clock.now
        future = super().submit(task, *arguments, **named)
        self.clock.now = self.after if late else self.clock.now
        return future


@pytest.mark.parametrize(("text", "cores"), first([(STRIKING, 3), (STARTER, 2)], 1), ids=["strikes", "clear"])
def test_the_number_of_workers_changes_no_bit_of_what_is_found(text, cores):
    assert findings(swept(text, cores)) == alone(text)


@pytest.mark.parametrize("order", first(["one by one, backwards", "all together"], 1))
def test_no_grouping_of_pairs_changes_a_bit_of_what_is_found(order, monkeypatch):
    def grouped(_mechanism, pairs, _workers):
        every = list(range(len(pairs)))
        return [every] if order == "all together" else [[one] for one in every[::-1]]

    monkeypatch.setattr(handed_out, "task_groups", grouped)
    executor = Here()
    assert findings(swept(STRIKING, 2, executor)) == alone(STRIKING)
    assert executor.tasks >= 1


def test_every_pair_is_in_one_task():
    made = swept(STARTER)
    pairs = made.pairs.checked
    for count in (1, 2, 7):
        groups = task_groups.task_groups(made.mechanism, pairs, count)
        assert sorted(number for group in groups for number in group) == list(range(len(pairs)))
    assert task_groups.task_groups(made.mechanism, [], 2) == []


def test_pairs_that_only_the_others_decide_about_are_searched_again_and_alike(monkeypatch):
    """With one nearest pair closed in on, whatever its distance, a task cannot know that it is the nearest."""
    monkeypatch.setattr("assembly.clearance.proof.sweep.NEAREST", 1)
    one, two = (swept(STARTER, cores, interest_mm=0.0) for cores in (1, 2))
    assert findings(one) == findings(two)
    assert any(found.result.closed_in for found in two.found)


def test_few_pairs_are_searched_here(monkeypatch):
    def refuse(*_):
        raise AssertionError("workers were started")

    monkeypatch.setattr(task_groups, "WORTH_WORKERS", 150.0)
    monkeypatch.setattr("assembly.clearance.proof.sweep.workers", refuse)
    assert findings(swept(STARTER, 2)) == alone(STARTER)


def test_what_tasks_need_reaches_each_worker_once():
    numbers = run_each(2, told_once, [()] * 12)
    for process in {process for process, _ in numbers}:
        assert sorted(count for own, count in numbers if own == process) == list(
            range(1, 1 + sum(own == process for own, _ in numbers))
        )


def told_once(context, _stop):
    """A task that counts how often it found the same context."""
    context.append(1)
    time.sleep(0.01)
    return os.getpid(), len(context)


def run_each(cores, task, arguments, context=None):
    found = {}
    with workers(cores) as made:
        made.give([] if context is None else context)
        own = [lambda one=one: one for one in arguments]
        run_each.lost = made.run(task, own, found.__setitem__, lambda: None, str)
    return [found[number] for number in sorted(found)]


def dies(_context, _stop, number, mark):
    """A task that ends its process: number 2 the first time, number 4 each time."""
    if number == 4 or (number == 2 and not Path(mark).exists()):
        Path(mark).touch()
        os.kill(os.getpid(), signal.SIGKILL)
    return number


def test_a_worker_that_dies_loses_its_task_only_and_that_is_run_again_once(tmp_path):
    mark = str(tmp_path / "mark")
    assert run_each(2, dies, [(number, mark) for number in range(4)]) == [0, 1, 2, 3]
    assert run_each.lost == []
    assert run_each(2, dies, [(number, mark) for number in range(8)]) == [0, 1, 2, 3, 5, 6, 7]
    assert run_each.lost == [4]


def test_a_pair_that_kills_its_worker_twice_is_undecided_and_the_others_are_known(monkeypatch):
    search = search_task.Searcher.run

    def deadly(self, wanted, *rest):
        for one in wanted:
            pair = self.context.pairs.checked[one.pair]
            if (pair.a, pair.b) == DEADLY:
                os.kill(os.getpid(), signal.SIGKILL)
        return search(self, wanted, *rest)

    monkeypatch.setattr(search_task.Searcher, "run", deadly)
    monkeypatch.setattr(handed_out, "task_groups", lambda _, pairs, __: [[number] for number in range(len(pairs))])
    made = swept(STARTER, 2)
    assert made.swept.stopped == LOST
    found = findings(made)
    assert {pair for pair in found if found[pair] != alone(STARTER)[pair]} == {DEADLY}
    (lost,) = (one.result for one in made.found if (one.result.pair.a, one.result.pair.b) == DEADLY)
    assert (lost.verdict, lost.why) == (Verdict.UNDECIDED, LOST)


def test_time_that_is_over_leaves_bounds_that_hold_on_two_processes():
    clock = Clock()
    with time_limit(1.0, clock):
        made = swept(STARTER, 2, progress=clock.at("search", 1.1))
    assert made.swept.stopped == "the time limit of 1 s was reached"
    assert any(one.result.verdict is Verdict.CLEAR for one in made.found)
    tells_no_more_than_is_so(made, STARTER)


@cache
def results(text):
    """Each pair's result of a sweep that is not cut short."""
    return {(one.result.pair.a, one.result.pair.b): one.result for one in swept(text).found}


def tells_no_more_than_is_so(made, text):
    """Hold a sweep that was cut short against the one that was not."""
    whole = results(text)
    assert {(one.result.pair.a, one.result.pair.b) for one in made.found} == whole.keys()
    for one in (each.result for each in made.found):
        known = whole[one.pair.a, one.pair.b]
        assert one.verdict in (Verdict.UNDECIDED, known.verdict)
        assert one.verdict is not Verdict.UNDECIDED or one.why == made.swept.stopped
        assert one.proven is None or one.proven <= known.least
        assert one.least >= (known.least if known.proven is None else known.proven) - 1e-9


@pytest.mark.parametrize(
    ("number", "after"), first([(1, 9.0), (5, 1.1), (9, 0.0)], 1), ids=["none known", "some known", "last"]
)
def test_tasks_that_begin_too_late_leave_their_pairs_undecided_and_nothing_is_kept(number, after):
    clock, memory = Clock(), Remembered()
    with time_limit(1.0, clock):
        made = swept(STARTER, 2, Late(number, clock, after), memory=memory)
    assert made.swept.stopped == "the time limit of 1 s was reached"
    assert not memory.kept
    tells_no_more_than_is_so(made, STARTER)


@cache
def looks_at_the_clock():
    """How often a sweep of tasks asks for the time."""
    whole = Clock(step=1.0)
    with time_limit(1e9, whole):
        swept(STARTER, 2, Here())
    return whole.looks


@pytest.mark.parametrize("share", first([0.4, 0.8], 1))
def test_tasks_that_are_cut_short_tell_no_more_than_is_so(share):
    clock, memory = Clock(), Remembered()

    def begins(stage, *_):
        clock.step = 1.0 if stage == "sweep" else clock.step

    with time_limit(share * looks_at_the_clock(), clock):
        made = swept(STARTER, 2, Here(), begins, memory)
    assert not (made.swept.stopped and memory.kept)
    assert made.swept.stopped or findings(made) == alone(STARTER)
    tells_no_more_than_is_so(made, STARTER)


def test_a_task_that_never_ends_is_waited_for_no_longer_than_there_is_time():
    start = time.monotonic()
    with time_limit(0.2), workers(1) as made:
        made.give(None)
        with pytest.raises(TimeLimitError):
            made.run(sleeps, [tuple], print, lambda: None, str)
    assert time.monotonic() - start < SLACK_S


@pytest.mark.parametrize("after", first([1, 3], 1))
def test_a_sweep_that_is_stopped_by_hand_gives_what_tasks_have_found(after):
    told = []

    def stop(stage, *_):
        told.append(stage)
        if stage == "search" and told.count(stage) == after:
            raise KeyboardInterrupt

    made = swept(STARTER, 2, progress=stop)
    assert made.swept.stopped == "stopped by hand"
    for one in made.found:
        least = results(STARTER)[one.result.pair.a, one.result.pair.b].least
        assert one.result.least >= least - 1e-9
        assert one.result.proven is None or one.result.proven <= least
    assert any(one.result.verdict is Verdict.CLEAR for one in made.found)


KILLED = """
import os, sys, time
sys.path.insert(0, sys.argv[1])
from assembly.parallel.workers import workers
from test_tasks import sleeps
with workers(2) as made:
    made.give(None)
    made.run(sleeps, [tuple] * 2, print, lambda: None, str)
"""


def sleeps(_context, _stop):
    """A task that tells its process and then works for long."""
    os.write(1, f"{os.getpid()}\n".encode())
    time.sleep(60)


@pytest.mark.skipif(not Path("/proc/self").exists(), reason="needs /proc to see what runs")
def test_workers_end_when_the_main_process_is_killed():
    main = subprocess.Popen([sys.executable, "-c", KILLED, str(Path(__file__).parent)], stdout=subprocess.PIPE)
    pids = [int(main.stdout.readline()) for _ in range(2)]
    main.kill()
    main.wait()
    end = time.monotonic() + 20
    while any(Path(f"/proc/{pid}").exists() for pid in pids) and time.monotonic() < end:
        time.sleep(0.05)
    main.stdout.close()
    assert not any(Path(f"/proc/{pid}").exists() for pid in pids)
