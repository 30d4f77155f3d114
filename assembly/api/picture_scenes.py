"""Answers beside what pictures of them show; a scene is only made where it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Generic, TypeVar

from assembly.api.cached_stops import cached_stops
from assembly.clearance.narrow_phase.pair_result import Overlap, Setting
from assembly.clearance.narrow_phase.witness import Witness
from assembly.geometry.scene import Scene
from assembly.geometry.stl import stl_bytes
from assembly.kinematics.mechanism import Mechanism, settings_of
from assembly.model.machine import Machine
from assembly.model.stop_solids import stop_to_make
from assembly.progress import Progress, no_progress
from assembly.record import PoseRecord, Record, StopsRecord
from assembly.report.text.picture_words import posed_answer, stop_answer, swept_answer
from assembly.report.text.words import gap, setting
from assembly.studies.look import LookResult, look
from assembly.studies.picture_scene import pair_scene
from assembly.studies.shared import drive_entries, point
from assembly.studies.stops.stop_design import StopsSettled
from assembly.studies.sweep.check import CheckResult

MakeScene = Callable[[], Scene]
Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True, eq=False)
class Shown(Generic[Answer]):
    """A record, and what a picture of it shows; None if there is nothing to show."""

    record: Answer
    scene: MakeScene | None


@dataclass(frozen=True, slots=True, eq=False)
class StopsShown(Shown[StopsRecord]):
    """A stop design; ``solids``: the STL file of each pad or bolt that is to be made, by the name of its stop.

    ``notes``: what is to be said of the result cache.
    """

    solids: Mapping[str, bytes]
    notes: tuple[str, ...] = ()


def pose_shown(machine: Machine, settings: Mapping[str, float]) -> Shown[PoseRecord]:
    """As ``pose``, with the pair that has the least room."""
    looked = look(machine, settings)
    return Shown(looked.record, pose_scene(looked))


def stops_shown(
    machine: Machine,
    heights: Mapping[str, float] | None = None,
    cores: int | None = None,
    progress: Progress = no_progress,
    *,
    cached: bool = True,
) -> StopsShown:
    """As ``design_stops``, with the first stop where it is struck and what is to be made."""
    notes: list[str] = []
    settled = cached_stops(machine, heights, cores, progress, notes.append, cached=cached)
    return StopsShown(settled.record, stop_scene(settled), _solids(settled), tuple(notes))


def _solids(settled: StopsSettled) -> dict[str, bytes]:
    designs = settled.designed.designs
    return {
        name: stl_bytes(stop_to_make(design.stop, design.to_make))
        for name, design in designs.items()
        if design.to_make and not design.stop.twin_of
    }


def nearest_scene(checked: CheckResult, rank: int = 0, record: Record | None = None) -> MakeScene | None:
    """The pair of a sweep with the least room, where it comes nearest; None if nothing was measured.

    ``rank`` 1 is the pair with the least room but for one, and so on. With the ``record`` the scene has its verdict.
    """
    if len(checked.found) <= rank:
        return None
    result, witness = checked.found[rank].result, checked.found[rank].witness
    shown = result.overlap or witness
    if shown is None:
        return None
    pair = (result.pair.a, result.pair.b)
    answer = swept_answer(record.pairs[rank], record) if record is not None else ("", "")
    return partial(_pair_scene, checked.mechanism, pair, shown, result.at, result.rolls, answer)


def pose_scene(looked: LookResult) -> MakeScene | None:
    """The pair with the least room at one setting; None if there is no pair."""
    if not looked.seen:
        return None
    seen = looked.seen[0]
    pair, rolls = (seen.entry.a, seen.entry.b), tuple(seen.entry.rolls)
    return partial(_pair_scene, looked.mechanism, pair, seen.shown, seen.at, rolls, posed_answer(seen.entry))


def stop_scene(settled: StopsSettled) -> MakeScene | None:
    """The first stop where it is struck; None if the stops were not proven."""
    return None if settled.proof is None else partial(_stop_scene, settled)


def _pair_scene(
    mechanism: Mechanism,
    pair: tuple[str, str],
    shown: Witness | Overlap,
    at: Setting,
    rolls: tuple[str, ...],
    answer: tuple[str, str],
) -> Scene:
    machine = mechanism.machine
    where = setting(settings_of(machine, at, rolls), drive_entries(machine))
    scene = pair_scene(mechanism, at, pair, shown, (f"{machine.name}: {' and '.join(pair)}", where), rolls)
    label = f"{gap(shown.depth)} mm deep here" if isinstance(shown, Overlap) else ""
    return replace(scene, verdict=answer[0], answer=answer[1], overlap_label=label)


def _stop_scene(settled: StopsSettled) -> Scene:
    mechanism = settled.proof.mechanism if settled.proof else settled.designed.mechanism
    machine = mechanism.machine
    design = next(design for design in settled.designed.designs.values() if design.contact is not None)
    stop, way, contact = design.stop, design.ways[design.governing], design.contact
    at = settings_of(machine, way.ends.at) | {stop.drive: way.acts}
    place = point(contact.on_stop) if contact else (0.0, 0.0, 0.0)
    shown = Witness(0.0, place, place, stop.name, contact.shape if contact else "")
    rolled = dict(way.ends.rolls)
    words = f"{machine.name}: stop {stop.name}", setting({**at, **rolled}, drive_entries(machine))
    both = (*at.values(), *rolled.values())
    scene = pair_scene(mechanism, both, (stop.name, stop.other), shown, words, tuple(rolled))
    verdict, answer, labels = stop_answer(stop.name, way.acts, settled.record)
    return replace(scene, verdict=verdict, answer=answer, labels=labels)
