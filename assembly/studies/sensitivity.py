"""What each number of the file does to every figure that has a rule, at the settings that govern them."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from assembly.clearance.narrow_phase.checked_pairs import Exclusion, Pairs
from assembly.clearance.narrow_phase.distance import CollisionModel
from assembly.clearance.narrow_phase.pair_result import Effort, Verdict
from assembly.clearance.proof.cached import PairFound
from assembly.clearance.sensitivity.change import Change, change_of
from assembly.clearance.sensitivity.derivatives import Slopes, slopes_of
from assembly.clearance.sensitivity.governing import Governing, has_figure
from assembly.clearance.sensitivity.measure_place import MeasurePlace
from assembly.clearance.sensitivity.pair_place import PairPlace
from assembly.clearance.sensitivity.places import MeasuredPlace, Place, Reserve, RollReserve
from assembly.clearance.sensitivity.taken_by_play import taken_by_play
from assembly.clearance.sensitivity.wheel_place import WheelPlace
from assembly.clearance.stops.stop_place import stop_place
from assembly.geometry.mesh import Floats
from assembly.kinematics.joint_motion import WHOLE_TURN, Lean, PinTurn, motions_of
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.kinematics.roll_columns import roll_name, with_rolls
from assembly.kinematics.wheel_figures import limit_name, limited_figures, wheel_figures, wheel_motion
from assembly.model.perturbed import Perturbations
from assembly.progress import Progress
from assembly.record import (
    FigureEntry,
    GoverningEntry,
    JointEntry,
    MeasureEntry,
    NumberEntry,
    RodEntry,
    Settings,
    SlopeEntry,
)
from assembly.time_limit import check_time

LEAST_LEAN = 0.05
"""degrees: what leans less has no slope; every change makes it lean more."""
STILL = 1e-7
"""A slope below this is rounding: the figure does not depend on the number."""


@dataclass(frozen=True, slots=True, eq=False)
class SweptFigures:
    """What a sweep found, as far as it is needed: pairs with what shows them, joints, rods and measures of its record.

    ``ready``: solids that the sweep has made ready to be asked for distances.
    """

    mechanism: Mechanism
    pairs: Pairs
    found: Sequence[PairFound]
    joints: Sequence[JointEntry]
    rods: Sequence[RodEntry]
    measures: Sequence[MeasureEntry]
    effort: Effort
    ready: Mapping[Exclusion, CollisionModel]
    asked: str = ""
    """A figure of wheels that is asked about; of others only what has a limit is told."""


@dataclass(frozen=True, slots=True, eq=False)
class _Figure:
    """A figure without its slopes, and the places that govern it alike."""

    entry: FigureEntry
    places: Sequence[Place]
    per_mm: float = 1.0
    """What the figure gains for each 1 that its places gain."""


def sensitivities(
    swept: SweptFigures, progress: Progress, wanted: Collection[str] | None = None
) -> tuple[tuple[NumberEntry, ...], tuple[FigureEntry, ...]]:
    """Every number of the file, or those ``wanted``, and every figure with its slopes over them; the worst first.

    Raises InputError for a machine that no file describes, TimeLimitError.
    """
    mechanism = swept.mechanism
    perturbations = Perturbations(mechanism.machine)
    rolled = with_rolls(mechanism, [number for number, roll in enumerate(mechanism.idle) if not roll.clamped])
    progress("what helps", 0, 0)
    parameters = [one for one in perturbations.parameters if wanted is None or one.name in wanted]
    changes = []
    for parameter in parameters:
        check_time()
        changes.append(change_of(rolled, perturbations, parameter))
    limited = (*_joints(rolled, swept), *_rods(rolled, swept), *_measures(rolled, swept), *_wheels(rolled, swept))
    figures = sorted((*_pairs(rolled, swept), *limited, *_stops(rolled)), key=_worst_first)
    slopes = iter(slopes_of(rolled, [place for figure in figures for place in figure.places], changes))
    told = _with_play(rolled, figures, tuple(_told(rolled, figure, changes, slopes) for figure in figures))
    return tuple(_number(change, told) for change in changes), told


def _with_play(
    mechanism: Mechanism, figures: Sequence[_Figure], told: Sequence[FigureEntry]
) -> tuple[FigureEntry, ...]:
    """The entries of ``figures`` with what the play of joints takes of each at its worst place."""
    taken = iter(taken_by_play(mechanism, [figure.places[0] for figure in figures if figure.places]))
    return tuple(
        replace(entry, play={name: abs(figure.per_mm) * size for name, size in next(taken).items()})
        if figure.places
        else entry
        for figure, entry in zip(figures, told, strict=True)
    )


def _worst_first(figure: _Figure) -> tuple[bool, int, float]:
    kinds = ("pair", "joint", "rod", "measure", "stop")
    return figure.entry.verdict != "fails", kinds.index(figure.entry.kind), figure.entry.room


def _pairs(mechanism: Mechanism, swept: SweptFigures) -> Iterator[_Figure]:
    governing = Governing(mechanism, swept.pairs.solids, swept.effort, swept.ready)
    found = [one for one in swept.found if has_figure(one, swept.effort)]
    every = governing.places([one.result for one in found])
    for one, places in zip(found, every, strict=True):
        pair = one.result.pair
        verdict, proven = one.result.verdict, one.result.proven
        kept = None if verdict is Verdict.FAILS or proven is None or not math.isfinite(proven) else proven
        entry = FigureEntry("pair", (pair.a, pair.b), "", "mm", one.room, pair.required, verdict.value, (), kept)
        yield _Figure(entry, places)


def _joints(mechanism: Mechanism, swept: SweptFigures) -> Iterator[_Figure]:
    for joint in swept.joints:
        if joint.reserve is None or not joint.at:
            continue
        downward = joint.reserve_low is not None and joint.reserve_low == joint.reserve
        value = joint.least if downward else joint.most
        motions = motions_of(mechanism.machine.joints[joint.name], mechanism.bodies)
        drawn = next(motion for motion in motions if motion.name == joint.motion)
        reserve = Reserve(
            joint=joint.name,
            motion=joint.motion,
            downward=downward,
            value=value or 0.0,
            drawn=drawn if isinstance(drawn, PinTurn) else None,
            roll=joint.roll,
            best_roll=joint.best_roll,
        )
        entry = FigureEntry("joint", (joint.name,), joint.motion, joint.unit, joint.reserve, None, joint.verdict, ())
        upright = isinstance(drawn, Lean) and (value or 0.0) < LEAST_LEAN
        yield _Figure(entry, [] if upright else [MeasuredPlace(reserve, _wide(mechanism, joint.at))])


def _rods(mechanism: Mechanism, swept: SweptFigures) -> Iterator[_Figure]:
    """The rods of which something limits the roll."""
    for rod in swept.rods:
        if rod.free < WHOLE_TURN:
            entry = FigureEntry("rod", rod.parts, "roll", "deg", rod.free, None, rod.verdict, ())
            yield _Figure(entry, [MeasuredPlace(RollReserve(rod.ends), _wide(mechanism, rod.at))])


def _measures(mechanism: Mechanism, swept: SweptFigures) -> Iterator[_Figure]:
    """What is left of each limit of a measure; of one without limits, what it comes to with all drives at 0."""
    for one in (each for each in swept.measures if each.name in mechanism.machine.measures):
        for side in one.sides:
            if side.margin is not None and side.found is not None:
                entry = FigureEntry("measure", (one.name,), side.motion, one.unit, side.margin, None, side.verdict, ())
                yield _Figure(entry, [MeasurePlace(one.name, side.motion, side.found, _wide(mechanism, side.at))])
        if not one.sides and one.zero is not None:
            entry = FigureEntry("measure", (one.name,), "value", one.unit, one.zero, None, None, ())
            yield _Figure(entry, [MeasurePlace(one.name, "value", one.zero, _wide(mechanism, {}))])


def _wheels(mechanism: Mechanism, swept: SweptFigures) -> Iterator[_Figure]:
    """What is left of each limit of a figure of wheels; of one that is asked about, what it comes to at 0."""
    told = {one.name: one for one in swept.measures}
    limited = {limit_name(figure.name, limit): figure for figure, limit in limited_figures(mechanism)}
    for name, figure in limited.items():
        for side in told[name].sides if name in told else ():
            if side.margin is not None:
                entry = FigureEntry("measure", (name,), side.motion, figure.unit, side.margin, None, side.verdict, ())
                place = WheelPlace(figure.word, figure.of_wheels, side.motion, _wide(mechanism, side.at))
                yield _Figure(entry, [place])
    for figure in wheel_figures(mechanism):
        zero = float(wheel_motion(mechanism, figure).values(mechanism.home)[0])
        if figure.name == swept.asked and figure.name not in limited and math.isfinite(zero):
            entry = FigureEntry("measure", (figure.name,), "value", figure.unit, zero, None, None, ())
            yield _Figure(entry, [WheelPlace(figure.word, figure.of_wheels, "value", _wide(mechanism, {}))])


def _stops(mechanism: Mechanism) -> Iterator[_Figure]:
    """Where each stop of known height is struck with the other drives at rest."""
    for stop in mechanism.machine.stops.values():
        found = stop_place(mechanism, stop)
        if found is not None:
            unit = mechanism.machine.drives[stop.drive].unit
            entry = FigureEntry("stop", (stop.name,), stop.drive, unit, found.acts, None, None, ())
            yield _Figure(entry, found.places, found.per_mm)


def _wide(mechanism: Mechanism, at: Settings) -> Floats:
    """A setting by names as one value for each column of ``mechanism``."""
    return np.array([at.get(name, 0.0) for name in mechanism.machine.drives])


def _told(mechanism: Mechanism, figure: _Figure, changes: Sequence[Change], slopes: Iterator[Slopes]) -> FigureEntry:
    """The entry of ``figure`` with its places, each with the next of ``slopes``."""
    entry = figure.entry
    places = _merged([_place(mechanism, figure, place, changes, next(slopes)) for place in figure.places])
    return replace(entry, places=places)


def _merged(places: Sequence[GoverningEntry]) -> tuple[GoverningEntry, ...]:
    """One entry for each two shapes at one setting: corners of a patch over which they lie flush change together."""
    made: dict[tuple[object, ...], GoverningEntry] = {}
    for place in places:
        key = (place.shape_a, place.shape_b, *place.at.items())
        made[key] = _together(made[key], place) if key in made else place
    return tuple(made.values())


def _together(one: GoverningEntry, other: GoverningEntry) -> GoverningEntry:
    """Slopes of the least of two rooms that are alike: upwards the smaller, downwards the larger."""
    first, second = ({slope.number: slope for slope in each.slopes} for each in (one, other))
    slopes = []
    for name in dict.fromkeys((*first, *second)):
        a, b = (each.get(name, SlopeEntry(name, 0.0, 0.0)) for each in (first, second))
        up = None if a.up is None or b.up is None else min(a.up, b.up)
        down = None if a.down is None or b.down is None else max(a.down, b.down)
        slopes.append(SlopeEntry(name, up, down))
    return replace(one, slopes=tuple(slopes))


def _place(
    mechanism: Mechanism, figure: _Figure, place: Place, changes: Sequence[Change], slopes: Slopes
) -> GoverningEntry:
    entry, shapes, room = figure.entry, ("", ""), figure.entry.room
    if isinstance(place, PairPlace):
        shapes = place.a.shape.name, place.b.shape.name
        room = place.gap - place.pair.required if entry.kind == "pair" and not place.apart.any() else room
    told = tuple(
        _slope(change.parameter.name, up, down)
        for change, up, down in zip(changes, *(figure.per_mm * way for way in (slopes.up, slopes.down)), strict=True)
        if not change.refused and not (abs(up) < STILL and abs(down) < STILL)
    )
    return GoverningEntry(_at(mechanism, entry, place), *shapes, room, told)


def _at(mechanism: Mechanism, entry: FigureEntry, place: Place) -> Settings:
    """The drives' settings, and the rolls of what can roll where they matter."""
    names = [roll_name(mechanism.bodies, mechanism.idle[number]) for number in mechanism.rolls]
    every = settings_of(mechanism.machine, tuple(place.settings.tolist()))
    return {name: value for name, value in every.items() if name not in names or (entry.kind == "pair" and value)}


def _slope(name: str, up: float, down: float) -> SlopeEntry:
    return SlopeEntry(name, None if np.isnan(up) else float(up), None if np.isnan(down) else float(down))


def _number(change: Change, figures: Sequence[FigureEntry]) -> NumberEntry:
    own = change.parameter
    moved = sum(
        any(slope.number == own.name for place in figure.places for slope in place.slopes) for figure in figures
    )
    return NumberEntry(own.name, own.kind.value, own.value, own.worked_out, change.refused, moved)
