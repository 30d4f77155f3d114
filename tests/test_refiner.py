"""The loop of branch and bound: what is cut, what takes its place, and that a run that is stopped still covers all."""

from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import pytest
from small_machines import read, slider

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.queries import Bench, Job
from assembly.clearance.proof.cells import even_lattice, lattice_cells
from assembly.clearance.proof.refiner import Tiling, refine, refine_measured
from assembly.kinematics.array_stacks import Growing, RowCache, replaced, stacked, taken
from assembly.kinematics.assembling import assemble

ROOT, STEEPEST = 7.3, 2.0


@dataclass(frozen=True)
class Slope:
    """Lowest value of a function in each cell."""

    least: np.ndarray


@dataclass
class Lowest:
    """Where |2 (x - 7.3)| is least: by its value at a cell's centre less its slope times the half-width."""

    cells: object
    tiling: object = None
    wanted: float = 1e-3

    def __post_init__(self):
        self.tiling = Tiling(self.cells.first, self.at(self.cells.first))

    def at(self, ids):
        motion = self.cells.motion
        values = STEEPEST * (np.abs(motion.settings[ids, 0] - ROOT) - motion.half[ids, 0])
        return Slope(np.maximum(values, 0.0))

    def to_cut(self):
        low = np.flatnonzero(self.tiling.figures.least <= 0)
        return low[self.cells.motion.half[self.tiling.ids[low], 0] > self.wanted]

    def axes(self, rows):
        return np.zeros(len(rows), dtype=np.intp)

    def bounded(self, children):
        own = self.at(children.ids)
        return replace(own, least=np.maximum(own.least, children.inherited.least))


def cells_of(parts=3, count=4):
    mechanism = assemble(read(slider()))
    (drive,) = mechanism.machine.drives.values()
    low, width = np.array([drive.low]), np.array([drive.high - drive.low])
    return lattice_cells(mechanism, *even_lattice(low, width, np.array([count])), parts=parts), drive


def covered(question):
    """Both ends of every cell of the tiling, sorted, once each: without holes and overlaps they are a chain."""
    motion = question.cells.motion
    centre, half = motion.settings[question.tiling.ids, 0], motion.half[question.tiling.ids, 0]
    order = np.argsort(centre)
    return (centre - half)[order], (centre + half)[order]


@pytest.mark.parametrize("parts", [2, 3])
def test_cells_close_in_on_the_only_place_and_cover_the_range_once(parts):
    cells, drive = cells_of(parts)
    question = Lowest(cells)
    refine([question])
    low, high = covered(question)
    assert (low[0], high[-1]) == (pytest.approx(drive.low), pytest.approx(drive.high))
    assert low[1:] == pytest.approx(high[:-1])
    (left,) = np.flatnonzero(question.tiling.figures.least <= 0)
    number = question.tiling.ids[left]
    assert abs(cells.motion.settings[number, 0] - ROOT) <= cells.motion.half[number, 0] <= question.wanted


def test_a_run_that_is_stopped_still_covers_the_range():
    class SpentError(Exception):
        pass

    rounds = iter(range(2))

    def after_round(_):
        if next(rounds, None) is None:
            raise SpentError

    question = Lowest(cells_of()[0])
    with pytest.raises(SpentError):
        refine([question], after_round)
    low, high = covered(question)
    assert len(low) == 4 + 3 * 2  # closed form: each of three rounds puts three cells in the place of one
    assert low[1:] == pytest.approx(high[:-1])


def test_questions_over_the_same_cells_share_the_children():
    cells, _ = cells_of()
    first = Lowest(cells)
    refine([first])
    made = len(cells)
    again = [Lowest(cells), Lowest(cells)]
    refine(again)
    assert len(cells) == made
    assert {tuple(sorted(one.tiling.ids.tolist())) for one in (first, *again)} == {tuple(sorted(first.tiling.ids))}


@dataclass(frozen=True)
class Known:
    """A look that needs no distance."""

    job: Job
    value: Slope

    def figures(self, found):
        assert found.shape == (0, 4)
        return self.value


class Looked(Lowest):
    """Looks first at all cells as they are, in which nothing is known until then; only after that they are cut."""

    rounds = 0

    def at(self, ids):
        own = super().at(ids)
        return own if self.rounds else replace(own, least=np.zeros(len(ids)))

    def to_cut(self):
        return super().to_cut() if self.rounds else np.arange(len(self.tiling))[::-1]

    def axes(self, rows):
        return super().axes(rows) if self.rounds else None

    def look(self, children):
        assert children.uncut == (not self.rounds)
        assert (children.ids == children.parents).all() == children.uncut
        self.rounds += 1
        place = Job(0, 0, np.zeros((0, 4, 4)))
        return Known(place, self.bounded(children))


# closed form: a first look tells the three cells without the place by their values; the fourth alone is cut
def test_cells_can_be_looked_at_as_they_are_before_any_is_cut():
    question, cut, rounds = Looked(cells_of()[0]), Lowest(cells_of()[0]), []
    first = cut.tiling.figures.least.tolist()
    assert question.tiling.figures.least.tolist() != first
    mechanism = question.cells.mechanism
    solids = [*gather_pairs(mechanism.machine, mechanism.bodies).solids.values()]
    refine_measured([question], Bench(solids, Path(), None), lambda _: rounds.append(question.tiling))
    assert (rounds[0].ids.tolist(), rounds[0].figures.least.tolist()) == (question.cells.first.tolist(), first)
    refine([cut])
    assert question.tiling.ids.tolist() == cut.tiling.ids.tolist()
    assert question.tiling.figures.least.tolist() == cut.tiling.figures.least.tolist()


def test_rows_that_grow_keep_their_values_and_move_rarely():
    first = Slope(np.arange(3.0))
    growing, moved, before = Growing(first), 0, None
    for number in range(200):
        growing.append(Slope(np.array([number + 3.0])))
        moved += growing.rows.least.base is not before
        before = growing.rows.least.base
    assert growing.rows.least.tolist() == list(range(203))
    assert moved <= np.log2(203)  # closed form: the room doubles each time


# closed form: of six keys the table keeps two, so the other four are worked out again, and every row is its key's half
def test_rows_by_keys_are_worked_out_once_as_far_as_there_is_room_for_them():
    cache, asked = RowCache(2), []

    def halves(keys):
        asked.append(keys[:, 0].tolist())
        return Slope(keys[:, 0] / 2)

    keys = np.arange(6.0)[:, None]
    for _ in range(2):
        assert (
            cache.rows(keys[::-1], halves, lambda own: own.least > 0.5).least.tolist() == (keys[::-1, 0] / 2).tolist()
        )
    assert asked == [[5.0, 4.0, 3.0, 2.0, 1.0, 0.0], [3.0, 2.0, 1.0, 0.0]]


def test_rows_are_taken_stacked_and_replaced_in_every_array_of_a_stack():
    stack = Tiling(np.arange(4), Slope(np.arange(4) / 2))
    some = taken(stack, np.array([2, 0]))
    assert (some.ids.tolist(), some.figures.least.tolist()) == ([2, 0], [1.0, 0.0])
    both = stacked(some, stack)
    assert both.figures.least.tolist() == (both.ids / 2).tolist()
    other = replaced(stack, np.array([1, 2]), some)
    assert other.ids.tolist() == [0, 3, 2, 0]
    assert other.figures.least.tolist() == (other.ids / 2).tolist()
