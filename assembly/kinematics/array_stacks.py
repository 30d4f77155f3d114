"""Stacks: frozen dataclasses of arrays that have a row for each of N things, and of other stacks."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from itertools import combinations
from math import prod
from typing import Any, Generic, TypeVar, cast

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats, Ids

Stack = TypeVar("Stack")


def taken(stack: Stack, index: Ids | NDArray[np.bool_]) -> Stack:
    """The rows at ``index``."""
    return cast(Stack, _mapped(lambda array: array[index], stack))


def stacked(*stacks: Stack) -> Stack:
    """All rows of ``stacks``, one stack after another."""
    return cast(Stack, _mapped(lambda *arrays: np.concatenate(arrays), *stacks))


def replaced(stack: Stack, rows: Ids, more: Stack) -> Stack:
    """The stack without ``rows``, and all rows of ``more`` after what is left."""
    kept = np.ones(len(next(_arrays(stack))), dtype=bool)
    kept[rows] = False
    return stacked(taken(stack, kept), more)


def overwritten(stack: Stack, rows: Ids, other: Stack) -> Stack:
    """The stack with the rows of ``other`` in the place of ``rows``."""

    def one(array: NDArray[Any], new: NDArray[Any]) -> NDArray[Any]:
        array = array.copy()
        array[rows] = new
        return array

    return cast(Stack, _mapped(one, stack, other))


class Growing(Generic[Stack]):
    """A stack that rows are added to; its arrays grow by doubling. ``rows`` is the stack of all rows so far."""

    def __init__(self, first: Stack) -> None:
        self.rows = first
        self._held = first

    def append(self, more: Stack) -> None:
        """Add the rows of ``more``."""
        count, room = len(next(_arrays(self.rows))), len(next(_arrays(self._held)))
        end = count + len(next(_arrays(more)))
        if end > room:
            self._held = _mapped(lambda array: _with_room(array, count, 2 * end), self._held)
        for held, new in zip(_arrays(self._held), _arrays(more), strict=True):
            held[count:end] = new
        self.rows = _mapped(lambda array: array[:end], self._held)


class RowCache(Generic[Stack]):
    """Rows of stacks by keys of d numbers, each worked out once. Beyond ``most`` rows it is worked out each time."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._known: dict[tuple[float, ...], Stack] = {}

    def rows(
        self,
        keys: NDArray[np.float64],
        found: Callable[[NDArray[np.float64]], Stack],
        kept: Callable[[Stack], NDArray[np.bool_]] | None = None,
    ) -> Stack:
        """The rows of ``keys`` (N, d): those known, and what is ``found`` for others; ``kept`` (n,) of these, or all.

        A row must depend on its key alone, so that what is kept never changes a figure.
        """
        every = [tuple(key) for key in keys.tolist()]
        new = np.array([key not in self._known for key in every], dtype=bool)
        more = found(keys[new])
        own = [key for key, is_new in zip(every, new, strict=True) if is_new]
        known = [self._known[key] for key, is_new in zip(every, new, strict=True) if not is_new]
        of_use = np.arange(len(own)) if kept is None else np.flatnonzero(kept(more))
        for row in of_use[: max(0, self._most - len(self._known))]:
            self._known[own[row]] = taken(more, np.array([row]))
        return taken(stacked(*known, more), np.argsort(np.argsort(new, kind="stable"))) if known else more


def _with_room(array: NDArray[Any], count: int, room: int) -> NDArray[Any]:
    wider = np.empty((room, *array.shape[1:]), dtype=array.dtype)
    wider[:count] = array[:count]
    return wider


def _mapped(do: Callable[..., NDArray[Any]], *stacks: Any) -> Any:
    """The stack of what ``do`` makes of each array, or of those in the same place of several stacks."""
    first = stacks[0]
    if isinstance(first, np.ndarray):
        return do(*stacks)
    return type(first)(
        *(_mapped(do, *(getattr(stack, name) for stack in stacks)) for name in first.__dataclass_fields__)
    )


def _arrays(stack: Any) -> Iterator[NDArray[Any]]:
    if isinstance(stack, np.ndarray):
        yield stack
    else:
        for name in stack.__dataclass_fields__:
            yield from _arrays(getattr(stack, name))


def crossings(axes: Sequence[Floats]) -> Floats:
    """Every value of each of d ``axes`` with every one of the others, (N, d), those of the last one next to each other.

    ValueError where there are no axes. No array has as many dimensions as there are axes: numpy allows 32 in places.
    """
    total = before = prod(map(len, axes))
    columns = []
    for axis in axes:
        before //= max(1, len(axis))
        columns.append(np.tile(np.repeat(axis, before), total // max(1, before * len(axis))))
    return np.stack(columns, axis=-1)


def crossings_within(axes: Sequence[Floats], most: int) -> Floats:
    """``crossings`` where they are no more than ``most``; else of each two axes, the others at what is nearest to 0.

    Where these are more than ``most`` too, each axis alone. For looking only: of many axes the places where three or
    more are away from 0 are left out.
    """
    if prod(map(len, axes)) <= most:
        return crossings(axes)
    long = [number for number, axis in enumerate(axes) if len(axis) > 1]
    together: list[tuple[int, ...]] = list(combinations(long, 2))
    if not together or sum(len(axes[a]) * len(axes[b]) for a, b in together) > most:
        together = [(number,) for number in long]
    rest = np.array([axis[np.argmin(np.abs(axis))] for axis in axes])
    found = []
    for numbers in together:
        crossed = crossings([axes[number] for number in numbers])
        found.append(np.tile(rest, (len(crossed), 1)))
        found[-1][:, numbers] = crossed
    return np.unique(np.concatenate(found), axis=0)
