"""Cables and splitters: from tables to values, those of the other side too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from itertools import pairwise
from math import dist
from typing import TypeVar

from assembly.model.cable import Cable, CableRun, CableSystem
from assembly.model.cable_arcs import half_tangent, held_places
from assembly.model.cable_measures import cable_measures
from assembly.model.cable_tables import OUTER_HINT, TO_CUT, CableTable, RunTable
from assembly.model.fault_list import shown
from assembly.model.feature import GROUND, Feature, FeatureKind
from assembly.model.feature_reader import FeatureReader
from assembly.model.measure import Measure
from assembly.model.measure_reader import flip_feature
from assembly.model.mirror import flipped
from assembly.model.positions import Place
from assembly.model.reading import Bench, OwnPoints
from assembly.model.schema import checked_table
from assembly.model.splitter_reader import read_splitters
from assembly.model.table_numbers import TableNumbers
from assembly.model.twins import OtherSide, texts

CABLES = "cables"
LEAST_RUN = 1e-6
"""mm: points that lie nearer are the same place."""
MOST_FRICTION = 2.0
CableRead = tuple[CableTable, Cable]
"""A cable as written, and as read."""
Read = TypeVar("Read")


def read_cables(raw: Mapping[str, object], own: Mapping[str, OwnPoints], bench: Bench) -> dict[str, CableRead | None]:
    """Every cable of the file with its table, or None with its faults noted."""
    bench.log.check_names(raw, "cable", (CABLES,))
    made: dict[str, CableRead | None] = {}
    for name, entry in raw.items():
        table = checked_table(CableTable, entry, (CABLES, name), bench.log)
        cable = None if table is None else _Reader((CABLES, name), own, bench).cable(name, table)
        made[name] = (table, cable) if table is not None and cable is not None else None
    return made


def cables_of_both_sides(
    every: Mapping[str, CableRead | None], splitters: Mapping[str, object], other_side: OtherSide
) -> CableSystem:
    """All cables with their twins, and the splitters; faults are noted. None stands for a cable that was refused.

    A cable that uses points of which the sides differ is read again as its side has them.
    """
    read = {name: one for name, one in every.items() if one is not None}
    lost = [name for name, one in every.items() if one is None]
    has_twin = other_side.bench.mirror.has_twin
    refused = {*lost, *(other_side.bench.mirror.other_side(name) for name in lost if has_twin(name))}

    def flip(twin: str, one: CableRead) -> Cable:
        table, cable = one
        parts = {each.part for run in cable.runs for each in run.points}
        used = other_side.changed(*parts) & set(texts(table.model_dump()))
        again = None
        if used:
            bench = other_side.bench_across()
            own = {part: other_side.own_of(part) for part in parts}
            again = _Reader((CABLES, cable.name), own, bench).cable(cable.name, table)
            other_side.note_faults(bench, (CABLES, twin), used, tuple(parts))
        mirror = other_side.bench.mirror
        runs = tuple(
            replace(
                run,
                points=tuple(flip_feature(mirror, each) for each in run.points),
                held=tuple(map(flipped, run.held)),
            )
            for run in (again or cable).runs
        )
        return replace(again or cable, name=twin, runs=runs)

    cables = {**{name: cable for name, (_, cable) in read.items()}, **other_side.bench.mirror.twins(read, flip)}
    return CableSystem(cables, read_splitters(splitters, cables, refused, other_side.bench))


def with_cables(measures: Mapping[str, Measure], system: CableSystem, bench: Bench) -> dict[str, Measure]:
    """``measures`` of the file and those of its cables; one that has the name of another is noted."""
    made = cable_measures(system)
    for name in made.keys() & measures.keys():
        told, hint = f"a cable or a splitter has a measure called {shown(name)} too", "give this one another name"
        bench.log.add(("measures", name), told, hint)
    return {**measures, **made}


class _Reader(TableNumbers):
    """Reads the one cable at ``place``."""

    def __init__(self, place: Place, own: Mapping[str, OwnPoints], bench: Bench) -> None:
        super().__init__(place, bench)
        self.features = FeatureReader(own, bench)

    def cable(self, name: str, table: CableTable) -> Cable | None:
        """The cable, or None with its faults noted."""
        before = self.log.marks
        if not table.runs:
            self.log.add((*self.place, "runs"), "a cable without a run", "give at least one, { through = [...] }")
        runs = [self.run(each, ("runs", number)) for number, each in enumerate(table.runs)]
        cable = Cable(
            name,
            tuple(run for run in runs if run is not None),
            self.optional(table.inner, lambda each: self.positive(each, ("inner",), "mm")),
            self.slack(table.slack, ("slack",), "the inner"),
            self.optional(table.free_play, lambda each: self.amount(each, ("free_play",))),
            self.optional(table.full_pull, lambda each: self.positive(each, ("full_pull",), "mm")),
            self.optional(table.friction, lambda each: self.positive(each, ("friction",), "", MOST_FRICTION)),
        )
        if self.log.marks == before:
            self.check(cable)
        return cable if self.log.marks == before else None

    def check(self, cable: Cable) -> None:
        """Note what the numbers of a cable together cannot be."""
        judged = [key for key in ("inner", "free_play", "full_pull") if getattr(cable, key) is not None]
        if judged and not (cable.is_pulled if cable.inner is None else all(run.is_known for run in cable.runs)):
            told = f"`{judged[0]}` says nothing while an outer of this cable is still to be cut"
            self.log.add((*self.place, judged[0]), told, f"leave it out, or give each `outer` in mm, not {TO_CUT!r}")
        if cable.slack and cable.inner is None:
            told = "slack of an inner whose length is not given is not known"
            self.log.add((*self.place, "slack"), told, "give `inner`, or the slack of an outer in its run")
        if cable.full_pull is not None and cable.full_pull <= (cable.free_play or 0.0):
            told = f"it is fully on at {cable.full_pull:g} mm, before its free play of {cable.free_play:g} mm is gone"
            self.log.add((*self.place, "full_pull"), told, "give a greater one")

    def run(self, raw: object, at: Place) -> CableRun | None:
        """One run, or None with its faults noted."""
        place, before = (*self.place, *at), self.log.marks
        table = checked_table(RunTable, raw, place, self.log)
        if table is None:
            return None
        points = [self.point(each, (*place, "through", number)) for number, each in enumerate(table.through)]
        if len(points) < 2:
            told = f"a cable runs through {'one point' if points else 'no point'}"
            self.log.add((*place, "through"), told, "give two or more: its ends, and the guides between them")
        outer = None
        if table.outer is not None and table.outer != TO_CUT:
            outer = self.outer(table.outer, at)
        if table.outer is None and table.slack is not None:
            told, hint = "a run without an outer has no slack of its own", "give it to the cable, beside its `inner`"
            self.log.add((*place, "slack"), told, hint)
        if table.outer is None and table.diameter is not None:
            told, hint = "a run without an outer has no hose that could touch anything", "leave out `diameter`"
            self.log.add((*place, "diameter"), told, hint)
        bend = self.optional(table.bend, lambda each: self.positive(each, (*at, "bend"), "mm"))
        slack = self.slack(table.slack, (*at, "slack"), "the outer")
        diameter = self.optional(table.diameter, lambda each: self.positive(each, (*at, "diameter"), "mm"))
        if self.log.marks != before:
            return None
        made = CableRun(
            tuple(each for each in points if each), bend or 0.0, table.outer is not None, outer, slack, diameter
        )
        self.check_run(made, place)
        return replace(made, held=held_places(made)) if self.log.marks == before else None

    def outer(self, given: float | str, at: Place) -> float | None:
        """The length of an outer; a lone word that is no dimension is told how what is to be cut is written."""
        if isinstance(given, str) and given.isidentifier() and given not in (known := self.bench.figures.dimensions):
            hint = f"{self.log.nearest(given, known, 'dimensions')}; {OUTER_HINT}" if known else OUTER_HINT
            self.log.add((*self.place, *at, "outer"), f"unknown dimension {shown(given)}", hint)
            return None
        return self.positive(given, (*at, "outer"), "mm")

    def point(self, raw: object, place: Place) -> Feature | None:
        """A point that a part carries."""
        feature = self.features.read(raw, place, (FeatureKind.POINT,))
        if feature is not None and feature.part == GROUND:
            told, hint = "a cable is held by a part, not by the ground", "name the part that carries it, the frame say"
            self.log.add((*place, "on"), told, hint)
            return None
        return feature

    def check_run(self, run: CableRun, place: Place) -> None:
        """Note points that are the same place, and arcs that do not fit as it is drawn."""
        places = [each.at or (0.0, 0.0, 0.0) for each in run.points]
        for number, (a, b) in enumerate(pairwise(places)):
            if dist(a, b) < LEAST_RUN:
                told = "this point of the cable is the same place as the one before it"
                self.log.add((*place, "through", number + 1), told, "leave out one of both")
                return
        corners = zip(places, places[1:], places[2:], strict=False)
        taken = [0.0, *(run.bend * half_tangent(*three) for three in corners), 0.0]
        for number, (a, b) in enumerate(pairwise(places)):
            need, there = taken[number] + taken[number + 1], dist(a, b)
            if run.bend and need > there:
                drawn = f"{there:z.1f} mm as drawn"
                told = f"arcs of radius {run.bend:g} need {need:z.1f} mm of this straight, which is {drawn}"
                hint = "give a smaller `bend` if the hose allows it, or move a guide"
                self.log.add((*place, "through", number + 1), told, hint)
                return
