"""How near parts come at any setting with every dimension anywhere within its tolerance: proven, not sampled.

What is proven is a sweep of the machine as built, whose drives are those of the machine and its dimensions. The bound
of a pair is the least of its pieces, each less the growth of both; that growth is a term of its own beside those of the
bound that the sweep made.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from math import inf

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import CheckedPair, Pairs
from assembly.clearance.narrow_phase.pair_result import Effort, PairResult, Setting
from assembly.clearance.proof.cell_groups import CellGroups
from assembly.clearance.proof.first_settings import first_settings
from assembly.clearance.proof.joint_search import JointSearch, joint_search
from assembly.clearance.proof.pair_state import PairsSwept
from assembly.clearance.proof.sweep import sweep_pairs
from assembly.clearance.tolerances.as_built import AsBuilt, as_built
from assembly.clearance.tolerances.frames import DIMENSION
from assembly.clearance.tolerances.grown_pairs import GrownPair, GrownPairs, Pieces, grown_pairs, loosened
from assembly.clearance.tolerances.growth import Growth
from assembly.clearance.tolerances.play_bounds import LoosePair, is_loose, play_bounds, point_of
from assembly.clearance.tolerances.readings import Readings, tolerances_of
from assembly.errors import AssemblyError, InputError
from assembly.kinematics.assembling import assemble
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.model.machine import Machine
from assembly.progress import Progress
from assembly.record import Settings

MOST_COLUMNS = 16
"""Drives and dimensions that move joints of which a proof is tried: second derivatives go with their square."""
LOOKED_AT = 300
"""Settings with dimensions at random ends at which the motions of joints are looked at besides those of the drives."""
SEED = 5


@dataclass(frozen=True, slots=True, eq=False)
class WorstPair:
    """The least that is ``proven`` of a pair, None for nothing, with the reason ``why``.

    ``growth`` mm: what of it the growth of shapes takes off; ``play`` what the play of joints does. ``at`` and ``off``:
    the setting that was found nearest, and how far off dimensions were there.
    """

    proven: float | None
    growth: float = 0.0
    at: Setting = ()
    off: Settings | None = None
    why: str = ""
    play: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class WorstCase:
    """The machine as built and what is proven of it. ``refused``: why nothing is, where that is so.

    ``built`` and ``swept`` are None where no sweep was made.
    """

    refused: tuple[str, ...]
    pairs: Mapping[CheckedPair, WorstPair]
    built: AsBuilt | None = None
    mechanism: Mechanism | None = None
    swept: PairsSwept | None = None
    loose: Mapping[str, float | None] | None = None
    """By how many degrees play may lean or turn joints with limits farther, None where that is not proven; None where
    no joint has play."""

    @property
    def narrow(self) -> Mechanism | None:
        """The machine for the limits of joints: lines of rods may be off by what its ends have less of theirs."""
        if self.built is None or self.mechanism is None or not self.built.turns:
            return self.mechanism
        return assemble(self.built.machine(leans=-1))

    @property
    def unproven_share(self) -> float:
        """Share of the range in which the motion is not proven."""
        return self.swept.unreachable_share if self.swept is not None else 1.0


def worst_case(mechanism: Mechanism, pairs: Pairs, effort: Effort, progress: Progress) -> WorstCase:
    """What is proven of ``pairs`` of ``mechanism`` whatever its dimensions are within their tolerances.

    Raises InputError for a machine that no file describes.
    """
    progress("tolerances", 0, 0)
    readings = Readings(mechanism.machine, tolerances_of(mechanism.machine))
    built = as_built(mechanism, readings)
    if built.refused:
        return WorstCase(built.refused, {})
    pieces = Pieces(built, Growth(built))
    pieces.prepare()
    try:
        made, why = _put_together(built)
    except (AssemblyError, InputError) as error:
        made, why = None, f"with its dimensions free {error.faults[0].message}"
    if made is None:
        return WorstCase((why,), {})
    grown = loosened(grown_pairs(built, pieces, pairs, made.bodies), made)
    own = replace(effort, strikes_shown=False, budget_s=None)
    swept = sweep_pairs(made, grown.pairs, own, progress)
    return WorstCase((), _merged(mechanism.machine, made, grown, swept), built, made, swept, _turned_by_play(made))


def _turned_by_play(made: Mechanism) -> dict[str, float | None] | None:
    """By how many degrees the play of all joints turns the parts of joints with limits of an angle, at most."""
    if not is_loose(made):
        return None
    joints = [one for one in made.machine.joints.values() if one.misalignment is not None or one.turn_limit]
    sides = [[point_of(made, part) for part in (one.first, one.second)] for one in joints]
    found = play_bounds(made, [LoosePair(a, b, turns=True) for a, b in sides])
    return {
        joint.name: None if turned is None else float(np.rad2deg(turned))
        for joint, turned in zip(joints, found, strict=True)
    }


def _put_together(built: AsBuilt) -> tuple[Mechanism | None, str]:
    machine = built.machine(leans=1 if built.turns else 0)
    drives = len(built.drawn.machine.drives)
    if len(machine.drives) > MOST_COLUMNS:
        told = f"{len(machine.drives) - drives} tolerances (or what is not straight of them) move joints, beside"
        return None, f"{told} {count_of(drives)}; at most {MOST_COLUMNS} are bounded together"
    return assemble(machine), ""


def count_of(drives: int) -> str:
    """How many drives, in words."""
    return "1 drive" if drives == 1 else f"{drives} drives"


def limits_search(drawn: Mechanism, made: Mechanism, groups: CellGroups | None = None) -> JointSearch:
    """A search for motions of the machine as built: at the settings of the drives, and with dimensions at their ends.

    ``groups``: the cells of a sweep, if there was one.
    """
    own = first_settings(drawn)
    drives = list(made.machine.drives.values())[own.shape[1] :]
    ends = np.array([(one.low, one.high) for one in drives]).reshape(-1, 2)
    random = np.random.default_rng(SEED)
    rows, sides = random.integers(len(own), size=LOOKED_AT), random.integers(2, size=(LOOKED_AT, len(drives)))
    off = np.take_along_axis(ends, sides.T, axis=1).T
    still = np.hstack([own, np.zeros((len(own), len(drives)))])
    return joint_search(made, groups, np.vstack([still, np.hstack([own[rows], off])]))


def _merged(drawn: Machine, made: Mechanism, grown: GrownPairs, swept: PairsSwept) -> dict[CheckedPair, WorstPair]:
    """The least of the pieces of each pair."""
    found: dict[CheckedPair, WorstPair] = {pair: WorstPair(None, why=why) for pair, why in grown.unknown.items()}
    for one, result in zip(grown.swept, swept.pairs, strict=True):
        worst = _worst(drawn, made, one, result)
        known = found.get(one.of)
        if known is None or _least(worst) < _least(known):
            found[one.of] = worst
    return found


def _least(worst: WorstPair) -> float:
    return -inf if worst.proven is None else worst.proven


def _worst(drawn: Machine, made: Mechanism, one: GrownPair, result: PairResult) -> WorstPair:
    every = settings_of(made.machine, result.at[: len(made.machine.drives)]) if result.at else {}
    at = tuple(every.get(name, 0.0) for name in drawn.drives)
    off = {name.removeprefix(DIMENSION): value for name, value in every.items() if name.startswith(DIMENSION)}
    proven = None if result.proven is None else result.proven - one.grows - one.play
    return WorstPair(proven, one.grows, at, off, result.why, one.play)
