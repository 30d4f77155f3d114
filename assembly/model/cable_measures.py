"""What is measured of cables and splitters: measures like those that the file names, so that limits hold alike."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

from assembly.model.cable import Cable, CableRun, CableSystem, Splitter
from assembly.model.feature import Feature
from assembly.model.measure import Measure, MeasureKind, Path


def outer_name(cable: Cable, number: int) -> str:
    """What the measure of the hose of a run is called."""
    hoses = [each for each, run in enumerate(cable.runs) if run.hose]
    return f"{cable.name} outer" if len(hoses) == 1 else f"{cable.name} outer {hoses.index(number) + 1}"


def straight_name(cable: Cable) -> str:
    """What the measure of the shortest straight between a cable's arcs is called."""
    return f"{cable.name} straight"


def pull_name(cable: Cable) -> str:
    """What the measure of how far motion pulls a cable is called."""
    return f"{cable.name} pull"


def inner_name(cable: Cable) -> str:
    """What the measure of a cable's inner is called: of all of it that lies in no outer that is still to be cut."""
    return f"{cable.name} inner"


def bends_name(cable: Cable) -> str:
    """What the measure of all bends of a cable is called."""
    return f"{cable.name} bends"


def end_name(splitter: Splitter, cable: str) -> str:
    """What the measure of the way of one end of a splitter is called."""
    return f"{splitter.name} to {cable}"


def middle_name(splitter: Splitter) -> str:
    """What the measure of the way of a beam's middle is called."""
    return f"{splitter.name} travel"


def apart_name(splitter: Splitter) -> str:
    """What the measure of how far the first end of a splitter is ahead of the second is called."""
    return f"{splitter.name} apart"


def cable_measures(system: CableSystem) -> dict[str, Measure]:
    """Every measure of all cables and splitters by its name."""
    found = [one for cable in system.cables.values() for one in _of_cable(cable)]
    found += [one for splitter in system.splitters.values() for one in _of_splitter(splitter, system.cables)]
    return {one.name: one for one in found}


def _of_cable(cable: Cable) -> Iterator[Measure]:
    for number, run in enumerate(cable.runs):
        if run.hose:
            most = None if run.outer is None else run.outer - run.slack
            yield replace(_measure(outer_name(cable, number), MeasureKind.PATH, [run]), most=most)
    bent = [run for run in cable.runs if run.bend and len(run.points) > 2]
    if bent:
        yield replace(_measure(straight_name(cable), MeasureKind.STRAIGHT, bent), least=0.0)
    if cable.is_pulled:
        known = [run for run in cable.runs if run.is_known]
        demand = _measure(inner_name(cable), MeasureKind.PATH, known, counted=True)
        yield demand
        more, from_zero = -(cable.inner or 0.0), cable.inner is None
        yield replace(demand, name=pull_name(cable), more=more, from_zero=from_zero, most=cable.may_pull)
    if cable.friction is not None:
        yield _measure(bends_name(cable), MeasureKind.BENDS, cable.runs)


def _of_splitter(splitter: Splitter, cables: Mapping[str, Cable]) -> Iterator[Measure]:
    """The ways of its ends and its middle: a cable that the motion pulls by so much needs so much less of a pull."""
    runs = [[run for run in cables[name].runs if run.is_known] for name in splitter.cables]
    (first, second), (a, b), most = splitter.pulls, splitter.shares, splitter.travel
    for name, pull, own in zip(splitter.cables, splitter.pulls, runs, strict=True):
        weights = [-1.0] * len(own)
        limit = most if splitter.arms is None else None
        yield _weighted(end_name(splitter, name), own, weights, pull, (None, limit))
    both = [*runs[0], *runs[1]]
    if splitter.arms is not None:
        weights = [-a] * len(runs[0]) + [-b] * len(runs[1])
        yield _weighted(middle_name(splitter), both, weights, a * first + b * second, (None, most))
    weights = [-1.0] * len(runs[0]) + [1.0] * len(runs[1])
    apart = splitter.most_apart
    limits = (None, None) if apart is None else (-apart, apart)
    yield _weighted(apart_name(splitter), both, weights, first - second, limits)


def _weighted(
    name: str,
    runs: Sequence[CableRun],
    weights: Sequence[float],
    more: float,
    limits: tuple[float | None, float | None],
) -> Measure:
    made = _measure(name, MeasureKind.PATH, runs, counted=True, weights=weights)
    return replace(made, more=more, from_zero=True, least=limits[0], most=limits[1])


def _measure(
    name: str, kind: MeasureKind, runs: Sequence[CableRun], *, counted: bool = False, weights: Sequence[float] = ()
) -> Measure:
    """A measure of ``runs``; ``counted``: as long as their outers where these are longer than the paths."""
    features: list[Feature] = []
    paths = []
    for number, run in enumerate(runs):
        start = len(features)
        features += run.points
        whole = run.outer if counted and run.outer is not None else 0.0
        weight = weights[number] if weights else 1.0
        paths.append(Path(tuple(range(start, len(features))), run.bend, whole, weight))
    return Measure(name, kind, tuple(features), paths=tuple(paths))
