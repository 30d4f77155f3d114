"""How far the play of joints lets bodies move away from where the machine stands, anywhere in a cell of settings.

At a setting δ of a cell let x be the motion of the machine without play, and x + d with it. Both hold the rows of
``cell_motion``, the one exactly and the other to within a miss w that the play allows (``loose_rows``), so

    J d + R(x + d, δ) - R(x, δ) = w,    d = C w + e,
    |e| <= |C| (change of R over |d|, and what rows miss without play).

Let the box |d| <= r have an image, under the right side, of at most κ r with κ < 1, at every δ of the cell and every
w. Then no d of any share t w of a miss lies on the border, so a machine that is shaken, by whatever way, from where it
stands stays in the box (as in ``cell_motion``); the box is then narrowed by applying the map again. With C at the
cell's centre, C w is the exact first order of what each joint's play does there, and e is bounded.

Seen from one body, a point of another that has the lever v from its centre moves by d_t + d_w × v, where levers are
taken at the cell's centre. A rotation vector that goes from w to w + d moves a lever by d × v and at most
3/2 (|w| + |d|) |d| |v| more (closed form: the derivative of the exponential is J(w) d × exp(w) v, with
|J(w) - 1| <= |w|/2 and |exp(w) - 1| <= |w|); and a lever of the body that looks on is other by what it sees the point
travel in the cell.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from assembly.geometry.mesh import Flags, Floats, Ids
from assembly.geometry.rotations import cross, lengths
from assembly.kinematics.cell_bounds import CellMotion
from assembly.kinematics.cell_motion import INSIDE, LEAST_BOX, WIDEST_TURN, LeftOut
from assembly.kinematics.expansion import ROUNDING, applied, by_body, reach_of
from assembly.kinematics.loose_rows import LooseRows
from assembly.kinematics.mechanism import Mechanism, Solved
from assembly.kinematics.rows import Posture, Reach

FIRST_BOXES = (3.0, 1.5)
"""The first boxes that are tried are so many times what play does to first order; the last that holds is taken."""
NARROWINGS = 5
SQUARINGS = 3
"""A Gram matrix is raised to the power of 2 to this: its norm is then at most 3^(1/16) of itself too large."""


@dataclass(frozen=True, slots=True, eq=False)
class LooseMotion:
    """What the play of joints does in N cells. ``certified`` (N,): where it is not, nothing is bounded.

    ``shift`` mm and ``turn`` rad (N, B, k, 3): C w at the centres for each direction that play has, at its whole
    length; ``starts`` (v,): the first of each vector's. ``rest``: bounds (N, B) on e, ``whole`` on d. ``travel``: how
    far bodies get in the cells without play.
    """

    posture: Posture
    shift: Floats
    turn: Floats
    starts: Ids
    rest: Reach
    whole: Reach
    travel: Reach
    certified: Flags

    def apart(self, body: int, other: int, middle: Floats, radius: Floats | float) -> tuple[Floats, Floats]:
        """How far (N,) mm play moves points of ``body`` as ``other`` sees them: bounded, and to first order.

        The points lie within ``radius`` mm of ``middle`` (N, 3), where it stands at the cells' centres. Infinite where
        nothing is certified.
        """
        both = [body, other]
        arms = middle[:, None] - self.posture.centres[:, both]
        far = lengths(arms) + np.asarray(radius)[..., None]
        spin = self.turn[:, body] - self.turn[:, other]
        first = self.longest(self.gone(body, other, middle)) + radius * self.longest(spin)
        by, turned = self.whole.turn[:, both], self.travel.turn[:, both]
        bent = 1.5 * (turned + by) * by
        more = (self.rest.shift[:, both] + (self.rest.turn[:, both] + bent) * far).sum(axis=1)
        travel = (self.travel.shift[:, both] + turned * far).sum(axis=1)
        more += (by + bent)[:, 1] * travel
        return np.where(self.certified, ROUNDING * (first + more), np.inf), first

    def gone(self, body: int, other: int, middle: Floats) -> Floats:
        """By how much (N, k, 3) mm each direction of play moves ``middle`` (N, 3) of ``body`` as ``other`` sees it."""
        both = [body, other]
        arms = middle[:, None] - self.posture.centres[:, both]
        gone = self.shift[:, both] + cross(self.turn[:, both], arms[:, :, None])
        return np.asarray(gone[:, 0] - gone[:, 1])

    def turned(self, body: int, other: int) -> tuple[Floats, Floats]:
        """By how much (N,) rad play turns ``body`` as ``other`` sees it: bounded, and to first order."""
        both = [body, other]
        first = self.longest(self.turn[:, body] - self.turn[:, other])
        by = self.whole.turn[:, both]
        more = (self.rest.turn[:, both] + 1.5 * (self.travel.turn[:, both] + by) * by).sum(axis=1)
        return np.where(self.certified, ROUNDING * (first + more), np.inf), first

    def longest(self, moved: Floats) -> Floats:
        """The longest (N,) that the sum of all vectors' effects may be, from those of their directions (N, k, 3)."""
        return np.asarray(self.each(moved).sum(axis=1))

    def each(self, moved: Floats) -> Floats:
        """The longest (N, v) that the effect of each vector may be, from those of its directions (N, k, 3)."""
        outer = moved[..., :, None] * moved[..., None, :]
        return gram_sizes(np.add.reduceat(outer, self.starts, axis=1))


def gram_sizes(grams: Floats) -> Floats:
    """Bounds (...) on the spectral norms of matrices M of which M Mᵀ (..., 3, 3) are ``grams``."""
    size = np.maximum(np.trace(grams, axis1=-2, axis2=-1), 1e-300)
    power = grams / size[..., None, None]
    for _ in range(SQUARINGS):
        power = power @ power
    share = np.linalg.norm(power, axis=(-2, -1)) ** (0.5**SQUARINGS)
    return np.asarray(ROUNDING * np.sqrt(size * np.minimum(share, 1.0)))


def loose_motion(mechanism: Mechanism, loose: LooseRows, solved: Solved, motion: CellMotion) -> LooseMotion:
    """What the play of joints does in the cells of ``motion``, of which ``solved`` are the centres."""
    with np.errstate(invalid="ignore", over="ignore"):
        left = LeftOut(mechanism, solved, motion.half)
        expansion, scale, posture = left.expansion, left.expansion.scale, solved.posture
        travel = left.linear + reach_of(left.curved, scale) + Reach(motion.shift_rest, motion.turn_rest)
        missed = left.may_miss(motion.missed)
        rows = loose.bounds(posture, travel) + loose.turned(travel) + missed
        play = applied(expansion, rows)
        box, image = np.full_like(play, np.inf), np.full_like(play, np.inf)
        for times in FIRST_BOXES:
            tried = times * play + LEAST_BOX
            made, _ = _image(left, loose, (travel, missed), tried)
            holds = (made <= INSIDE * tried).all(axis=1, keepdims=True)
            box, image = np.where(holds, tried, box), np.where(holds, made, image)
        reach = travel + reach_of(box, scale)
        certified = motion.certified & np.isfinite(box).all(axis=1) & (reach.turn <= WIDEST_TURN).all(axis=1)
        for _ in range(NARROWINGS):
            box = np.minimum(box, image)
            image, rest = _image(left, loose, (travel, missed), box)
        whole = reach_of(np.minimum(box, image), scale)
        columns = loose.columns(posture, travel + whole)
        slopes = mechanism.equations.slopes(posture)
        stacks = mechanism.system.stacks
        moved = stacks.times(stacks.left_inverse(slopes), columns)
        shift, turn = by_body(moved, scale)
    return LooseMotion(posture, shift, turn, loose.starts, reach_of(rest, scale), whole, travel, certified)


def _image(left: LeftOut, loose: LooseRows, given: tuple[Reach, Floats], box: Floats) -> tuple[Floats, Floats]:
    """What the map makes (N, 2 (B - 1)) of the box of d, and what of it is e."""
    (travel, missed), expansion = given, left.expansion
    reach = travel + reach_of(box, expansion.scale)
    beyond = applied(expansion, loose.turned(reach) + missed) + left.change(reach, box)
    play = applied(expansion, loose.bounds(left.solved.posture, reach))
    return np.asarray(play + beyond), np.asarray(beyond)
