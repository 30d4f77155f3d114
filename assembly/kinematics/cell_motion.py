"""How far anything can move inside a cell of drive settings: the bound that carries the proof between poses.

A cell is a box of settings, centre ``q`` and half-widths ``h``. Write every body's motion away from its
place at ``q`` as unknowns ``x`` (shift of the centre, rotation vector). The joints hold where

    J x + R(x, δ) = D δ,    |δ| <= h,

with J the derivative at the centre, D what the drives ask, and R what the linear part leaves out. Take

    x = V δ + ½ δᵀH δ + e,    V = J⁻¹ D,    H = -J⁻¹ (curvature of the rows along V),

so that V and H are the exact first and second derivatives of the motion. What is left of R then is of third
order; each family of rows bounds it in closed form, and

    |e| <= |J⁻¹| (third order(|V| h, ½ |H| hh + |e|) + miss at the centre).

Existence and branch. Let the box |e| <= r have an image, under the right side, of at most κ r with κ < 1. Then no
solution lies on the border of the box, at any setting of the cell; at the centre the only one inside is ours (with
no linear part every term is of second degree in e, so a second solution would have to be larger than itself); and
the map has a fixed point at every setting, joined to ours at the centre by solutions inside the box (Brouwer;
Leray and Schauder). So a machine that is moved from the centre to any setting of the cell, by any way inside the
cell, stays in the box: it can be assembled everywhere and cannot leave for another assembly. Nor does the box hold two
postures of one setting: they would be apart by some |d| <= 2 r, and from the one to the other R changes by no more than
third order(reach, |d|) - third order(reach, 0), reach being that of the whole box. Where this gives back at most κ of
2 r and so, as it is convex, of every smaller |d|, d is 0. The box is then narrowed by applying the map again: each
image of such a box still holds every solution in it. Rounding in C and V adds their measured loss to every image.

Where loops are held too often, J is tall and a left inverse C stands for J⁻¹. What is proven is then proven of C times
the rows: every posture at which all rows hold solves that too, so the bounds hold and no other assembly is met unseen.
That the redundant rows do hold is another matter. At the posture that is proven to exist they miss by no more than a
bound of third order (``closure``), which is at most ``CLOSURE_TOLERANCE`` or the cell is cut. The bounds are made for
every posture of the box at which rows of such a block miss by no more than that, as if it were a miss at the centre:
so however the joints share what the loop misses by, if it does, the bounds hold. The box is made for ``ROOM`` times as
much. Rows that are seen to part to second order, or at a solved centre, are not let pass at all (``holds_together``).
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.kinematics.array_stacks import stacked
from assembly.kinematics.cell_bounds import CellMotion as CellMotion
from assembly.kinematics.closure import CLOSURE_TOLERANCE, ROOM
from assembly.kinematics.expansion import (
    Expansion,
    RowGroups,
    applied,
    by_body,
    expand,
    holds_together,
    lengths_of,
    reach_of,
)
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rolled_motion import Rolled, unrolled, with_roll_bounds
from assembly.kinematics.rows import Reach
from assembly.time_limit import check_time
from assembly.working_memory import at_once

AT_ONCE = 512
"""Cells worked on as one stack at the most: beyond it nothing is gained."""
BYTES_OF_BENDS = 96
"""About how much memory the second derivatives take for each row and two drives, from measurements up to 16 drives."""
INSIDE = 0.9
"""κ above."""
FIRST_BOX = 3.0
"""The first box is this many times what the map makes of the box of no size."""
FIRST_GUESS = 2.0
"""The same for what the posture alone is looked for in."""
LEAST_BOX = 1e-6
"""mm: the first box is wider than this, so that rounding never takes a posture out of it, and a body that misses by
nothing is not refused what others' misses do to it."""
MOST_LOSS = 1e-3
"""A cell whose inverse may be off by more than this share of itself is not proven."""
NARROWINGS = 3
WIDEST_TURN = 0.7
"""rad: a cell in which a body may turn farther is split; keeps every angle far from where cosines repeat."""


def bound_motion(mechanism: Mechanism, solved: Solved, half: Floats) -> CellMotion:
    """Bounds over the cells with centres ``solved`` and half-widths ``half`` (N, d) in drive units."""
    if mechanism.unrolled is not None:
        return _bound_rolled(mechanism, mechanism.unrolled, solved, half)
    rows, drives = mechanism.equations.ratios.shape
    size = at_once(mechanism.system.bytes_each + BYTES_OF_BENDS * rows * drives**2, AT_ONCE)
    starts = np.arange(0, max(len(half), 1), size)
    every = np.arange(len(half), dtype=np.intp)
    return stacked(*(_bound(mechanism, solved.take(every[k : k + size]), half[k : k + size]) for k in starts))


def _bound(mechanism: Mechanism, solved: Solved, half: Floats) -> CellMotion:
    """The bounds over as many cells as are worked on at once."""
    check_time()
    with np.errstate(invalid="ignore", over="ignore"):
        left = LeftOut(mechanism, solved, half)
        expansion, room = left.expansion, left.room()
        rest = box = FIRST_BOX * left.image(left.linear_rows, left.none, room) + LEAST_BOX
        rows = left.rows(rest)
        inside = left.image(rows, rest, room)
        reach = left.reach(rest)
        certified = solved.reached & (inside <= INSIDE * rest).all(axis=1) & (reach.turn <= WIDEST_TURN).all(axis=1)
        certified &= holds_together(expansion, half, solved.residual) & (expansion.loss <= MOST_LOSS).all(axis=1)
        certified &= (left.change(reach, 2 * box) <= 2 * INSIDE * box).all(axis=1)
        missed = left.missed_in(box, rows)
        certified &= ((missed <= CLOSURE_TOLERANCE) & (ROOM * missed <= room)).all(axis=1)
        for _ in range(NARROWINGS):
            rest = np.minimum(rest, inside)
            inside = left.image(left.rows(rest), rest, missed)
    return _cell_motion(left, (np.minimum(rest, inside), box), missed, certified)


class LeftOut:
    """The map of the module's docstring over N cells: what linear motion and curvature leave out."""

    def __init__(self, mechanism: Mechanism, solved: Solved, half: Floats) -> None:
        self.mechanism, self.solved, self.half = mechanism, solved, half
        self.groups = RowGroups(mechanism)
        self.expansion = expansion = expand(mechanism, solved, self.groups)
        self.lengths = lengths_of(np.abs(expansion.rates) @ half[..., None])[..., 0]
        self.linear = reach_of(self.lengths, expansion.scale)
        self.curved = 0.5 * np.einsum("nkij,ni,nj->nk", lengths_of(expansion.bends), half, half)
        self.none, self.nothing = np.zeros(self.curved.shape), np.zeros((len(half), 0))
        self.linear_rows = self.rows(self.none)

    def reach(self, rest: Floats) -> Reach:
        """How far bodies get where the remainder is ``rest`` (N, 2 (B - 1))."""
        return self.linear + reach_of(self.curved + rest, self.expansion.scale)

    def rows(self, rest: Floats) -> Floats:
        """Bound (N, g) mm on what the groups of rows hold of third order."""
        more = reach_of(self.curved + rest, self.expansion.scale)
        higher = self.mechanism.equations.third_order(self.solved.posture, self.linear, more, self.half)
        return self.groups.longest(higher)

    def room(self) -> Floats:
        """Misses (N, blocks) mm of tall blocks for which a box is to be wide enough."""
        if self.expansion.closure is None:
            return self.nothing
        rest = FIRST_GUESS * self.image(self.linear_rows, self.none, self.nothing)
        return ROOM * self.missed(rest)

    def missed_in(self, box: Floats, rows: Floats) -> Floats:
        """Bound (N, blocks) mm on what rows of tall blocks miss at the posture in ``box``, of which ``rows`` are known.

        C F is 0 at that posture, so each image of the box without further misses holds it.
        """
        for _ in range(0 if self.expansion.closure is None else NARROWINGS):
            box = np.minimum(box, self.image(rows, box, self.nothing))
            rows = self.rows(box)
        return self.missed(box, rows)

    def missed(self, rest: Floats, rows: Floats | None = None) -> Floats:
        """Bound (N, blocks) mm on what rows of tall blocks miss where C F is 0 and the remainder is ``rest``."""
        closure = self.expansion.closure
        if closure is None:
            return self.nothing
        left_out = (self.rows(rest) if rows is None else rows) + self.expansion.missed
        moved = np.linalg.norm(self.lengths + self.curved + rest, axis=1)
        return closure.bounds(left_out + self.expansion.parted(self.half)[:, None], moved)

    def may_miss(self, missed: Floats) -> Floats:
        """What groups of rows (N, g) mm may miss, that of the centre included."""
        closure, own = self.expansion.closure, self.expansion.missed
        return own if closure is None or not missed.shape[1] else own + closure.by_group(missed, own.shape[1])

    def image(self, rows: Floats, rest: Floats, missed: Floats) -> Floats:
        """What the map makes (N, 2 (B - 1)) of the box ``rest`` at postures at which tall blocks miss by ``missed``."""
        rounded = _rounded(self.expansion, self.lengths + self.curved + rest)
        return np.asarray(applied(self.expansion, rows + self.may_miss(missed)) + rounded)

    def change(self, reach: Reach, apart: Floats) -> Floats:
        """What the map makes (N, 2 (B - 1)) of two postures within ``reach`` that are ``apart`` (N, 2 (B - 1))."""
        equations, scale = self.mechanism.equations, self.expansion.scale
        far, near = (
            equations.third_order(self.solved.posture, reach, reach_of(by, scale), self.half)
            for by in (apart, self.none)
        )
        return np.asarray(applied(self.expansion, self.groups.longest(far - near)) + _rounded(self.expansion, apart))


def _rounded(expansion: Expansion, moved: Floats) -> Floats:
    """What rounding in the inverse adds to motions, both (N, 2 (B - 1)), of all bodies."""
    return np.asarray(expansion.loss * np.linalg.norm(moved, axis=1, keepdims=True))


def _bound_rolled(mechanism: Mechanism, base: Mechanism, solved: Solved, half: Floats) -> CellMotion:
    """The bounds of the unrolled machine, made once for cells that differ in rolls alone, and of the rolls."""
    drives = len(base.machine.drives)
    cells = np.concatenate([solved.settings[:, :drives], half[:, :drives]], axis=1)
    first, row = np.unique(cells, axis=0, return_index=True, return_inverse=True)[1:]
    alike = unrolled(mechanism, solved.take(first))
    motion = bound_motion(base, alike, half[first, :drives]).take(row.reshape(-1))
    rolled = Rolled(solved.settings, half, solved.posture)
    bounded = with_roll_bounds(mechanism, motion, rolled, WIDEST_TURN, range(len(mechanism.bodies)))
    return replace(bounded, certified=bounded.certified & solved.reached)


def _cell_motion(
    left: LeftOut, rests: tuple[Floats, Floats], misses: Floats, certified: NDArray[np.bool_]
) -> CellMotion:
    expansion, solved, scale = left.expansion, left.solved, left.expansion.scale
    shift_rate, turn_rate = by_body(expansion.rates, scale)
    shift_bend, turn_bend = by_body(expansion.bends, scale)
    rest, box = (reach_of(rest, scale) for rest in rests)
    missed = reach_of(applied(expansion, left.may_miss(misses)), scale)
    return CellMotion(
        settings=solved.settings,
        half=left.half,
        posture=solved.posture,
        shift_rate=shift_rate,
        turn_rate=turn_rate,
        shift_bend=shift_bend,
        turn_bend=turn_bend,
        shift_rest=rest.shift,
        turn_rest=rest.turn,
        shift_residual=missed.shift,
        turn_residual=missed.turn,
        turn=left.linear.turn,
        shift_box=box.shift,
        turn_box=box.turn,
        missed=misses,
        certified=certified,
    )
