"""Branch and bound: one loop for every question that is asked of cells of settings.

A question holds a tiling, cells that together cover the range, with figures of each. Round by round it names the rows
to be cut, and bounds the children; these take the place of their parents as one step, so that a run that is stopped at
any moment still covers all. Rows can also be looked at again as they are, without being cut: so a search begins.
Questions over the same cells are cut together, and all distances of a round are measured as one batch; neither changes
a figure of any question.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

import numpy as np

from assembly.clearance.narrow_phase.queries import Bench, Job
from assembly.clearance.proof.cells import Cells
from assembly.geometry.mesh import Floats, Ids
from assembly.kinematics.array_stacks import overwritten, replaced, taken
from assembly.progress import Progress as Progress
from assembly.time_limit import check_time

Figures = TypeVar("Figures")
FiguresOf = TypeVar("FiguresOf", covariant=True)


@dataclass(frozen=True, slots=True, eq=False)
class Tiling(Generic[Figures]):
    """Cells ``ids`` (N,) that together cover a range, and what is known of each: a stack of N rows."""

    ids: Ids
    figures: Figures

    def __len__(self) -> int:
        return len(self.ids)


@dataclass(frozen=True, slots=True, eq=False)
class Children(Generic[Figures]):
    """Cells ``ids`` (n,) that take the place of the ``rows`` (k,) of a tiling.

    ``parents`` (n,): the cell that each was cut from; ``inherited``: that cell's figures, which hold in the child too.
    Rows that are not cut are their own children: ``ids`` is then ``parents``.
    """

    rows: Ids
    ids: Ids
    parents: Ids
    inherited: Figures

    @property
    def uncut(self) -> bool:
        """Whether they are the rows themselves."""
        return self.ids is self.parents


class CellLook(Protocol[FiguresOf]):
    """What is known of new cells without a distance, and the ``job`` that measures the distances that are needed."""

    @property
    def job(self) -> Job:
        """The distances."""

    def figures(self, found: Floats) -> FiguresOf:
        """The figures of the cells once the job ``found`` (k, 4) its distances and directions."""


class Question(Protocol[Figures]):
    """What is asked of all cells of a tiling."""

    @property
    def cells(self) -> Cells:
        """The cells that are cut."""

    tiling: Tiling[Figures]

    def to_cut(self) -> Ids:
        """Rows of the tiling to be cut next; none once there is an answer, or none can be had."""

    def axes(self, rows: Ids) -> Ids | None:
        """The drive along which to cut each of ``rows``; None if they are to be looked at as they are."""


class PlainQuestion(Question[Figures], Protocol[Figures]):
    """A question that is answered without distances."""

    def bounded(self, children: Children[Figures]) -> Figures:
        """The figures of new cells."""


class MeasuredQuestion(Question[Figures], Protocol[Figures]):
    """A question whose figures rest on distances."""

    def look(self, children: Children[Figures]) -> CellLook[Figures]:
        """What is to be measured in new cells."""


SomeQuestion = TypeVar("SomeQuestion", bound=Question[Any])
SomePlain = TypeVar("SomePlain", bound=PlainQuestion[Any])
SomeMeasured = TypeVar("SomeMeasured", bound=MeasuredQuestion[Any])


def refine(questions: Sequence[SomePlain], after_round: Callable[[Sequence[SomePlain]], None] = lambda _: None) -> None:
    """Cut cells until no question asks for more; ``after_round`` is called with the questions cut, and may raise."""
    active = list(questions)
    while active:
        active, cut = _cut(active)
        for question, children in zip(active, cut, strict=True):
            _put(question, children, question.bounded(children))
        after_round(active)


def refine_measured(
    questions: Sequence[SomeMeasured],
    bench: Bench,
    after_round: Callable[[Sequence[SomeMeasured]], None] = lambda _: None,
) -> None:
    """The same with distances, which ``bench`` measures."""
    active = list(questions)
    while active:
        active, cut = _cut(active)
        looks = [question.look(children) for question, children in zip(active, cut, strict=True)]
        measured = bench.look([look.job for look in looks])
        for question, children, look, found in zip(active, cut, looks, measured, strict=True):
            _put(question, children, look.figures(found))
        after_round(active)


def _put(question: Question[Any], children: Children[Any], figures: Any) -> None:
    tiling = Tiling(children.ids, figures)
    put = overwritten if children.uncut else replaced
    question.tiling = put(question.tiling, children.rows, tiling)


def _cut(questions: Sequence[SomeQuestion]) -> tuple[list[SomeQuestion], list[Children[Any]]]:
    """Those of the questions that ask for more, and the children of the rows that each names."""
    check_time()
    chosen = [(question, rows) for question in questions if len(rows := question.to_cut())]
    every = enumerate(chosen)
    axes = {number: axes for number, (question, rows) in every if (axes := question.axes(rows)) is not None}
    split: dict[int, Ids] = {}
    for cells in dict.fromkeys(chosen[number][0].cells for number in axes):
        own = [number for number in axes if chosen[number][0].cells is cells]
        ids = [question.tiling.ids[rows] for question, rows in (chosen[number] for number in own)]
        made = cells.split(np.concatenate(ids), np.concatenate([axes[number] for number in own]))
        split.update(zip(own, np.split(made, np.cumsum([*map(len, ids)])[:-1]), strict=True))
    children = [_children(*one, split.get(number)) for number, one in enumerate(chosen)]
    return [question for question, _ in chosen], children


def _children(question: Question[Figures], rows: Ids, split: Ids | None) -> Children[Figures]:
    """The children of ``rows``, their numbers being ``split``; those that rods' ends exclude fall away."""
    tiling = question.tiling
    if split is None:
        same = tiling.ids[rows]
        return Children(rows, same, same, taken(tiling.figures, rows))
    ids = split.reshape(-1)
    kept = np.flatnonzero(question.cells.some_allowed(ids))
    parents = np.repeat(rows, split.shape[1])[kept]
    return Children(rows, ids[kept], tiling.ids[parents], taken(tiling.figures, parents))
