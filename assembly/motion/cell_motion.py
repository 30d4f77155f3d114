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
That the redundant rows do hold all through the cell is not proven by this. It is assumed that they stay redundant, and
checked: all rows must hold at every solved centre, and to second order across the cell (``holds_together``).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from assembly.geometry.mesh import Floats
from assembly.motion.cell_bounds import CellMotion as CellMotion
from assembly.motion.expansion import (
    Expansion,
    RowGroups,
    applied,
    by_body,
    expand,
    holds_together,
    lengths_of,
    reach_of,
)
from assembly.motion.mechanism import Mechanism, Solved
from assembly.motion.rolled_motion import unrolled, with_roll_bounds
from assembly.motion.rows import Reach

INSIDE = 0.9
"""κ above."""
FIRST_BOX = 3.0
"""The first box is this many times what the map makes of the box of no size."""
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
    groups = RowGroups(mechanism)
    with np.errstate(invalid="ignore", over="ignore"):
        expansion = expand(mechanism, solved, groups)
        lengths = lengths_of(np.abs(expansion.rates) @ half[..., None])[..., 0]
        linear = reach_of(lengths, expansion.scale)
        curved = 0.5 * np.einsum("nkij,ni,nj->nk", lengths_of(expansion.bends), half, half)

        def image(rest: Floats) -> Floats:
            more = reach_of(curved + rest, expansion.scale)
            higher = mechanism.equations.third_order(solved.posture, linear, more, half)
            rounded = _rounded(expansion, lengths + curved + rest)
            return np.asarray(applied(expansion, groups.longest(higher) + expansion.missed) + rounded)

        rest = box = FIRST_BOX * image(np.zeros(curved.shape)) + LEAST_BOX
        inside = image(rest)
        reach = linear + reach_of(curved + rest, expansion.scale)
        certified = solved.reached & (inside <= INSIDE * rest).all(axis=1) & (reach.turn <= WIDEST_TURN).all(axis=1)
        certified &= holds_together(expansion, half, solved.residual) & (expansion.loss <= MOST_LOSS)
        certified &= (_change(mechanism, solved, half, expansion, groups, reach, 2 * box) <= 2 * INSIDE * box).all(
            axis=1
        )
        for _ in range(NARROWINGS):
            rest = np.minimum(rest, inside)
            inside = image(rest)
    return _cell_motion(solved, half, expansion, (np.minimum(rest, inside), box), linear, certified)


def _change(
    mechanism: Mechanism,
    solved: Solved,
    half: Floats,
    expansion: Expansion,
    groups: RowGroups,
    reach: Reach,
    apart: Floats,
) -> Floats:
    """What the map makes (N, 2 (B - 1)) of two postures within ``reach`` that are ``apart`` (N, 2 (B - 1))."""
    none = np.zeros(apart.shape)
    far, near = (
        mechanism.equations.third_order(solved.posture, reach, reach_of(by, expansion.scale), half)
        for by in (apart, none)
    )
    return np.asarray(applied(expansion, groups.longest(far - near)) + _rounded(expansion, apart))


def _rounded(expansion: Expansion, moved: Floats) -> Floats:
    """What rounding in the inverse adds (N, 1) to motions (N, 2 (B - 1)) of all bodies."""
    return np.asarray(expansion.loss[:, None] * np.linalg.norm(moved, axis=1, keepdims=True))


def _bound_rolled(mechanism: Mechanism, base: Mechanism, solved: Solved, half: Floats) -> CellMotion:
    """The bounds of the unrolled machine, made once for cells that differ in rolls alone, and of the rolls."""
    drives = len(base.machine.drives)
    cells = np.concatenate([solved.settings[:, :drives], half[:, :drives]], axis=1)
    first, row = np.unique(cells, axis=0, return_index=True, return_inverse=True)[1:]
    alike = unrolled(mechanism, solved.take(first))
    motion = bound_motion(base, alike, half[first, :drives]).take(row.reshape(-1))
    return with_roll_bounds(mechanism, motion, solved, half, WIDEST_TURN)


def _cell_motion(
    solved: Solved,
    half: Floats,
    expansion: Expansion,
    rests: tuple[Floats, Floats],
    linear: Reach,
    certified: NDArray[np.bool_],
) -> CellMotion:
    scale = expansion.scale
    shift_rate, turn_rate = by_body(expansion.rates, scale)
    shift_bend, turn_bend = by_body(expansion.bends, scale)
    left, box = (reach_of(rest, scale) for rest in rests)
    missed = reach_of(applied(expansion, expansion.missed), scale)
    return CellMotion(
        settings=solved.settings,
        half=half,
        posture=solved.posture,
        shift_rate=shift_rate,
        turn_rate=turn_rate,
        shift_bend=shift_bend,
        turn_bend=turn_bend,
        shift_rest=left.shift,
        turn_rest=left.turn,
        shift_residual=missed.shift,
        turn_residual=missed.turn,
        turn=linear.turn,
        shift_box=box.shift,
        turn_box=box.turn,
        certified=certified,
    )
