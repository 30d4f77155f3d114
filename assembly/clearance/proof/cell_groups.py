"""Cells for each set of drives that moves two bodies against each other, so that no drive costs those it does not move.

Which drives can move two bodies against each other is known from which rows speak of which bodies
(``System.drives_between``). Their motion against each other is a function of those drives alone, on the one branch on
which the machine stands: so what is proven of it with the other drives at rest holds wherever the others stand. In the
same way a block of rows depends on some drives only, and is proven to stay closed over their ranges by cells of those
alone; a machine whose blocks all are is proven to go together at every setting of all drives. A loop that is held too
often may miss by a little (``closure.py``), by how much depends on all its drives: so do the cells of bodies that
it places.

A machine of several independent groups is not looked at as a whole at all: what moves a pair is proven of the machine
reduced to the groups of its two parts (``kinematics/reduced.py``).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from assembly.clearance.proof.cached import FiguresCache
from assembly.clearance.proof.cells import Cells, Drives
from assembly.clearance.proof.first_cells import Counts, FirstCounts, cells_over, counts_key
from assembly.clearance.proof.product_cells import OwnCells
from assembly.clearance.proof.rolled_cells import RolledCells
from assembly.kinematics.bodies import GROUND
from assembly.kinematics.closure import tall_blocks
from assembly.kinematics.mechanism import Mechanism, Submechanism
from assembly.kinematics.memo import Memo
from assembly.kinematics.reduced import each_group, submechanism
from assembly.kinematics.roll_columns import with_rolls


class CellGroups:
    """The cells of each set of drives, made when they are first asked for; which are made changes nothing in any."""

    def __init__(
        self, mechanism: Mechanism, unrolled: CellGroups | None = None, first: FirstCounts | None = None
    ) -> None:
        self.mechanism, self._unrolled, self._first = mechanism, unrolled, first
        self._made: Memo[Drives, Cells] = Memo()
        self._between: Memo[tuple[int, ...], Drives] = Memo()
        self._rolled: Memo[tuple[int, ...], CellGroups] = Memo()
        self._within: Memo[Submechanism, CellGroups] = Memo()
        self._tall = tall_blocks(mechanism.system)

    def within(self, reduced: Submechanism) -> CellGroups:
        """The groups of the reduced machine; these themselves if nothing is left out."""
        if reduced.mechanism is self.mechanism:
            return self
        return self._within.of(reduced, lambda own: CellGroups(own.mechanism, None, self._first))

    def rolled(self, rolls: tuple[int, ...]) -> CellGroups:
        """The groups of the machine with columns for the idle ``rolls``; these themselves if there are none."""
        if not rolls:
            return self
        return self._rolled.of(rolls, lambda own: CellGroups(with_rolls(self.mechanism, own), self))

    def of(self, drives: Drives) -> Cells:
        """The cells over ``drives``, the others at rest."""
        return self._made.of(drives, self._new)

    def _new(self, drives: Drives) -> Cells:
        if self._unrolled is None:
            return cells_over(self.mechanism, drives, self._first)
        columns = len(self._unrolled.mechanism.machine.drives)
        return RolledCells(self.mechanism, self._unrolled.of(tuple(drive for drive in drives if drive < columns)))

    def between(self, *bodies: int) -> Cells:
        """The cells over all drives that can move any two of ``bodies`` against each other."""
        return self.of(self._drives_between(bodies))

    def are_made(self, rolls: tuple[int, ...], *bodies: int) -> bool:
        """Whether there are cells over all drives, and the ``rolls``, that move ``bodies`` against each other."""
        groups = self._rolled.known.get(rolls) if rolls else self
        return groups is not None and groups._drives_between(bodies) in groups._made.known

    def of_own(self, body: int) -> OwnCells | None:
        """The cells over the drives of one body; None where none moves it, or it may not go together at every setting.

        That is as far as it is proven.
        """
        reduced = submechanism(self.mechanism, body)
        groups = self.within(reduced)
        drives = groups._drives_between((GROUND, reduced.body(body)))
        cells = groups.of(drives) if drives else None
        return None if cells is None or not len(cells.roots) or len(cells.unresolved) else OwnCells(reduced, cells)

    def of_each(self, a: int, b: int) -> tuple[OwnCells, OwnCells] | None:
        """The cells over the drives of either of two bodies, whose products then cover the drives of both.

        None where a drive moves both, or none moves one of them, or it is not proven of either that the machine goes
        together at every setting; and where there are cells over the drives of both in any case, which are sharper.
        """
        reduced = submechanism(self.mechanism, a, b)
        groups, one, other = self.within(reduced), reduced.body(a), reduced.body(b)
        first, second = groups._drives_between((GROUND, one)), groups._drives_between((GROUND, other))
        both = groups._drives_between((one, other))
        if not first or not second or sorted(first + second) != list(both) or both in groups._of_blocks:
            return None
        each = self.of_own(a), self.of_own(b)
        return None if each[0] is None or each[1] is None else (each[0], each[1])

    def _drives_between(self, bodies: tuple[int, ...]) -> Drives:
        return self._between.of(bodies, self._moving)

    def _moving(self, bodies: tuple[int, ...]) -> Drives:
        first, *others = bodies
        moving = [self.mechanism.system.drives_between(first, other) for other in others]
        return _numbers(self._with_loops(np.any(moving, axis=0), bodies))

    def _with_loops(self, moving: NDArray[np.bool_], bodies: tuple[int, ...]) -> NDArray[np.bool_]:
        """``moving`` (d,) and all drives of loops that are held too often, where these and they move the ``bodies``.

        What such a loop misses by is known of the settings in a cell only.
        """
        is_drive = np.arange(len(moving)) < len(moving) - len(self.mechanism.rolls)
        for _ in self._tall:
            for block in self._tall:
                if block.placed[list(bodies)].any() and (moving & block.moved_by).any():
                    moving = moving | (block.moved_by & is_drive)
        return moving

    def of_blocks(self) -> tuple[Cells, ...]:
        """Cells over the drives of every block, that together prove where the machine goes together at all."""
        return tuple(cells for one in each_group(self.mechanism) for cells in self.within(one)._of_own_blocks())

    def _of_own_blocks(self) -> tuple[Cells, ...]:
        return tuple(self.of(drives) for drives in sorted(self._of_blocks))

    @cached_property
    def _of_blocks(self) -> set[Drives]:
        """The largest sets of drives that blocks hang on."""
        return _largest({_numbers(own) for own in self.mechanism.system.block_drives()})

    @property
    def made(self) -> tuple[Cells, ...]:
        """All cells that were made."""
        more = (*self._rolled.known.values(), *self._within.known.values())
        return (*self._made.known.values(), *(cells for groups in more for cells in groups.made))

    @property
    def count(self) -> int:
        """How many cells were made."""
        return sum(map(len, self.made))

    @property
    def poses(self) -> int:
        """How many postures were solved at the centres of cells."""
        return sum(len(np.unique(cells.centre_of)) for cells in self.made)


@contextmanager
def groups_known(mechanism: Mechanism, cache: FiguresCache | None) -> Iterator[CellGroups]:
    """The groups of a machine; how finely the range is cut first is asked of ``cache``, and kept there."""
    if cache is None:
        yield CellGroups(mechanism)
        return
    first = FirstCounts()
    keys = [counts_key(one.mechanism) for one in each_group(mechanism)]
    first.known |= cache.look_up_figures(keys, Counts)
    yield CellGroups(mechanism, None, first)
    if first.grown:
        cache.keep_figures({key: first.known[key] for key in first.grown})


def _largest(every: Iterable[Drives]) -> set[Drives]:
    """Those sets of drives that are part of no other."""
    sets = [frozenset(drives) for drives in every]
    return {tuple(sorted(own)) for own in sets if not any(own < other for other in sets)}


def _numbers(moving: NDArray[np.bool_]) -> Drives:
    return tuple(np.flatnonzero(moving).tolist())
