"""Branch and bound: one loop for every question that is asked of cells of settings.

A question holds a tiling, cells that together cover the range, with figures of each. Round by round it names the rows
to be cut, and bounds the children; these take the place of their parents as one step, so that a run that is stopped at
any moment still covers all. Questions over the same cells are cut together, which changes no figure of any.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

import numpy as np

from assembly.clearance.proof.cells import Cells
from assembly.geometry.mesh import Ids
from assembly.kinematics.array_stacks import replaced, taken
from assembly.progress import Progress as Progress
from assembly.time_limit import check_time

Figures = TypeVar("Figures")


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
    """

    rows: Ids
    ids: Ids
    parents: Ids
    inherited: Figures


class Question(Protocol[Figures]):
    """What is asked of all cells of a tiling."""

    @property
    def cells(self) -> Cells:
        """The cells that are cut."""

    tiling: Tiling[Figures]

    def to_cut(self) -> Ids:
        """Rows of the tiling to be cut next; none once there is an answer, or none can be had."""

    def axes(self, rows: Ids) -> Ids:
        """The drive along which to cut each of ``rows``."""

    def bounded(self, children: Children[Figures]) -> Figures:
        """The figures of new cells."""


SomeQuestion = TypeVar("SomeQuestion", bound=Question[Any])
Bound = Callable[[Sequence[tuple[Any, Children[Any]]]], Sequence[Any]]


def each_bounded(asked: Sequence[tuple[Question[Any], Children[Any]]]) -> list[Any]:
    """The figures of new cells, of one question after another."""
    return [question.bounded(children) for question, children in asked]


def refine(
    questions: Sequence[SomeQuestion],
    after_round: Callable[[Sequence[SomeQuestion]], None] = lambda _: None,
    bound: Bound = each_bounded,
) -> None:
    """Cut cells until no question asks for more.

    ``after_round`` is called with the questions that were cut, and may raise. ``bound`` gives the figures of all new
    cells of a round, for questions that are measured together.
    """
    active = list(questions)
    while active:
        check_time()
        chosen = [(question, rows) for question in active if len(rows := question.to_cut())]
        active = [question for question, _ in chosen]
        asked = list(zip(active, cut(chosen), strict=True))
        for (question, children), figures in zip(asked, bound(asked), strict=True):
            question.tiling = replaced(question.tiling, children.rows, Tiling(children.ids, figures))
        after_round(active)


def cut(chosen: Sequence[tuple[SomeQuestion, Ids]]) -> list[Children[Any]]:
    """The children of the chosen rows of each question; those that rods' ends exclude fall away."""
    split: dict[int, Ids] = {}
    for cells in dict.fromkeys(question.cells for question, _ in chosen):
        own = [(number, *one) for number, one in enumerate(chosen) if one[0].cells is cells]
        ids = [question.tiling.ids[rows] for _, question, rows in own]
        axes = [question.axes(rows) for _, question, rows in own]
        parts = np.split(cells.split(np.concatenate(ids), np.concatenate(axes)), np.cumsum([*map(len, ids)])[:-1])
        split.update((number, part) for (number, *_), part in zip(own, parts, strict=True))
    return [_children(question, rows, split[number]) for number, (question, rows) in enumerate(chosen)]


def _children(question: Question[Figures], rows: Ids, split: Ids) -> Children[Figures]:
    ids = split.reshape(-1)
    kept = np.flatnonzero(question.cells.some_allowed(ids))
    parents = np.repeat(rows, split.shape[1])[kept]
    tiling = question.tiling
    return Children(rows, ids[kept], tiling.ids[parents], taken(tiling.figures, parents))
