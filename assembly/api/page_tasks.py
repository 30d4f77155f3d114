"""The parts of a page, each made by itself: what of them could not be made, and all at once where that is worth it."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import BrokenExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from assembly.clearance.proof.task_groups import worth_workers
from assembly.errors import SwingroomError, TimeLimitError
from assembly.kinematics.mechanism import Mechanism
from assembly.parallel.every_result import EveryResult
from assembly.parallel.workers import START, workers, works_elsewhere
from assembly.progress import Progress
from assembly.time_limit import time_left

DRAWS = "vtkmodules"
"""Where this is loaded, what is drawn later is drawn by this process: what it holds cannot be forked."""


@dataclass(slots=True)
class Gaps:
    """What could not be made, by the reason for it; the page is made without it."""

    told: dict[str, list[str]] = field(default_factory=dict)

    def add(self, what: str, why: str) -> None:
        """Take note of a thing that could not be made."""
        self.told.setdefault(why, []).append(what)

    def join(self, other: Gaps) -> None:
        """Take note of all that ``other`` has."""
        for why, what in other.told.items():
            self.told.setdefault(why, []).extend(what)

    def sentences(self) -> tuple[str, ...]:
        """One for each reason."""
        return tuple(f"{_listed(list(dict.fromkeys(what)))}: {why}." for why, what in self.told.items())

    @contextmanager
    def in_place_of(self, what: str) -> Iterator[None]:
        """Where the block fails, that is told instead."""
        try:
            yield
        except TimeLimitError as error:
            self.add(what, error.told)
        except SwingroomError as error:
            self.add(what, "; ".join(fault.message for fault in error.faults))
        except Exception as error:  # what stands beside the sweep's answer must never cost it
            self.add(what, " ".join(str(error).split()) or type(error).__name__)


def _listed(what: Sequence[str]) -> str:
    """Sentences as one, without the capitals of all but the first."""
    return "; ".join((what[0], *(f"{one[0].lower()}{one[1:]}" for one in what[1:])))


PagePart = Callable[[Any, Gaps], Any]
"""Makes a part of a page from what all have in common; a function that can be imported."""
Made = dict[PagePart, tuple[Any, Gaps]]


def page_part_task(context: Any, part: PagePart) -> tuple[Any, Gaps]:
    """One part of a page, and what of it could not be made."""
    gaps = Gaps()
    return part(context, gaps), gaps


def made_apart(context: Any, parts: Sequence[PagePart], cores: int, told: Progress) -> Made:
    """Each of ``parts``, the longest first, made by one of ``cores`` processes; none of them where one died."""
    with workers(cores) as hands:
        try:
            found = EveryResult(context, hands, told).of(
                page_part_task, [(part,) for part in parts], "parts of the page"
            )
        except BrokenExecutor:
            return {}
    return dict(zip(parts, found, strict=True))


def worth_apart(mechanism: Mechanism, pairs: Sequence[Any], cores: int) -> bool:
    """Whether parts of a page are made by several processes.

    Not against a time limit: what a process has not told by then is lost. And only where processes are forked, for
    they need all that a sweep holds.
    """
    forked = START == "fork" and not works_elsewhere()
    return cores > 1 and forked and time_left() is None and worth_workers(mechanism, pairs)


def can_draw_apart() -> bool:
    """Whether other processes of this machine can draw."""
    return DRAWS not in sys.modules
