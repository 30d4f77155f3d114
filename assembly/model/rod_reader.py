"""Rods that are screwed together: from tables to values, those of the other side too."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from math import dist, isnan

from assembly.geometry.shapes.rod_ends import ROD_END_SIZES
from assembly.model.fault_list import listed, shown
from assembly.model.machine import Joint
from assembly.model.mirror import Mirror
from assembly.model.positions import Place
from assembly.model.quantities_read import Given
from assembly.model.reading import Bench
from assembly.model.rod_tables import EngagementRuleTable, NutTable, RodSpannerTable, RodThreadTable, ThreadedRodTable
from assembly.model.schema import checked_table
from assembly.model.thread_standards import (
    NUTS,
    RULES,
    THREAD_LENGTH,
    EngagementRule,
    NutSize,
    SpannerSize,
    standard_pitches,
)
from assembly.model.threaded_rod import GRAIN, Hand, RodThread, ThreadedRod

_SECTION = "rods"
_SIZE = re.compile(r"^(M\d+)(?:\s*[x×]\s*(\d+(?:\.\d+)?))?$")
_NUT = re.compile(r"^(ISO 4032|ISO 4035)(?:\s+(\S.*))?$")
_MOST_TURNS = 1000.0
ENDS = (0, 1)
"""Numbers of a rod's ends."""


def read_rods(raw: Mapping[str, object], bench: Bench) -> dict[str, ThreadedRod]:
    """All rods of the file and their twins, whose lengths are not known yet; faults are noted."""
    bench.log.check_names(raw, "rod", (_SECTION,))
    read = {name: _Reader((_SECTION, name), bench).rod(name, entry) for name, entry in raw.items()}
    rods = {name: rod for name, rod in read.items() if rod is not None}
    mirror = bench.mirror
    return {**rods, **mirror.twins(rods, lambda name, rod: _twin(name, rod, mirror))}


def _twin(name: str, rod: ThreadedRod, mirror: Mirror) -> ThreadedRod:
    """The same rod on the other side: it is made of the same ends, so hands stay what they are."""
    first, second = (replace(end, joint=mirror.other_side(end.joint)) for end in rod.ends)
    return replace(rod, name=name, part=mirror.other_side(rod.part), ends=(first, second), twin_of=rod.name)


def rods_in_place(rods: Mapping[str, ThreadedRod], joints: Mapping[str, Joint], bench: Bench) -> dict[str, ThreadedRod]:
    """``rods`` with their lengths, and what is engaged so; raises every fault of theirs."""
    found = {name: _in_place(rod, joints, bench) for name, rod in rods.items()}
    bench.log.raise_faults()
    return {name: rod for name, rod in found.items() if rod is not None}


def _in_place(rod: ThreadedRod, joints: Mapping[str, Joint], bench: Bench) -> ThreadedRod | None:
    place: Place = (_SECTION, rod.twin_of or rod.name)
    log, before = bench.log, bench.log.marks
    at = []
    for number, end in enumerate(rod.ends):
        joint = joints.get(end.joint)
        if joint is None or rod.part not in (joint.first, joint.second):
            hint = "name the joint of the rod's part that sits at this end"
            log.add((*place, "ends", number, "joint"), f"{shown(end.joint)} does not tie {shown(rod.part)}", hint)
        else:
            at.append(joint.at_first if joint.first == rod.part else joint.at_second)
    if log.marks != before:
        return None
    length = dist(*at)
    for number, end in enumerate(rod.ends):
        if end.length > length / 2:
            told = f"a thread of {end.length:g} mm is longer than half the rod, which is {length:z.2f} mm ball to ball"
            log.add((*place, "ends", number), told, "give the mm of thread on this end alone")
    made = replace(rod, length=length, ends=_engaged(rod, length))
    for number, end in enumerate(made.ends):
        _check_engaged(end, (*place, "ends", number), made, bench)
    return made if log.marks == before else None


def _engaged(rod: ThreadedRod, length: float) -> tuple[RodThread, RodThread]:
    """Both ends with what is in: half of it each, or as one of them says."""
    first, second = rod.ends
    whole = first.ball_to_tip + second.ball_to_tip + rod.tube_length - length
    if first.stated:
        return first, replace(second, engaged=whole - first.engaged)
    if second.stated:
        return replace(first, engaged=whole - second.engaged), second
    return replace(first, engaged=whole / 2), replace(second, engaged=whole / 2)


def _check_engaged(end: RodThread, place: Place, rod: ThreadedRod, bench: Bench) -> None:
    """Noted where the thread does not reach the tube, or would have to be in farther than there is thread."""
    today = f"at {rod.length:z.2f} mm ball to ball, with a tube of {rod.tube_length:g} mm,"
    if end.engaged < GRAIN:
        told = f"{today} the thread at {shown(end.joint)} ends {max(0.0, -end.engaged):z.2f} mm short of the tube"
        bench.log.add(place, told, "give a longer `tube_length`, or a greater `ball_to_tip`")
    elif end.engaged > end.most + GRAIN:
        told = f"{today} {end.engaged:z.2f} mm are in at {shown(end.joint)}, and {end.most:z.2f} mm can be"
        bench.log.add(place, told, "the lock nut's height counts; give a shorter `tube_length`, or the right thread")


class _Reader:
    """Reads the one rod at ``place``."""

    def __init__(self, place: Place, bench: Bench) -> None:
        self.place, self.bench, self.log = place, bench, bench.log

    def rod(self, name: str, raw: object) -> ThreadedRod | None:
        before = self.log.marks
        table = checked_table(ThreadedRodTable, raw, self.place, self.log)
        if table is None:
            return None
        self.log.knows(table.part, self.bench.part_names, "part", (*self.place, "part"))
        ends = [self.end(each, (*self.place, "ends", number)) for number, each in enumerate(table.ends)]
        if len(ends) != len(ENDS):
            hint = "give a table for each, with its joint, size and hand"
            self.log.add((*self.place, "ends"), f"{len(ends)} ends are given, and a rod has two", hint)
            return None
        first, second = ends
        if first is not None and second is not None:
            self.check_ends(first, second)
        tube = self.bench.figures.size(table.tube_length, (*self.place, "tube_length"))
        flats = self.optional(table.tube_flats, (*self.place, "tube_flats"))
        rules = [self.rule(each, (*self.place, "rules", number)) for number, each in enumerate(table.rules)]
        spanner = None if table.spanner is None else self.spanner(table.spanner)
        if self.log.marks != before or first is None or second is None:
            return None
        kept = tuple(rule for rule in rules if rule is not None)
        return ThreadedRod(name, table.part, (first, second), tube, kept, 0.0, flats, spanner)

    def check_ends(self, first: RodThread, second: RodThread) -> None:
        if first.joint == second.joint:
            hint = "name the joints at the two ends of the rod"
            self.log.add((*self.place, "ends", 1, "joint"), f"{shown(first.joint)} is at both ends", hint)
        if first.stated and second.stated:
            hint = "give it at one end: the other follows from the rod's length"
            self.log.add((*self.place, "ends", 1, "engaged"), "`engaged` stands at both ends", hint)

    def end(self, table: RodThreadTable, place: Place) -> RodThread | None:
        before = self.log.marks
        self.log.knows(table.joint, self.bench.ties, "joint", (*place, "joint"))
        size, diameter, pitch = self.thread(table, place)
        bare = size.partition("×")[0]
        series = ROD_END_SIZES.get(bare)
        length = self.length(table.thread_length, (*place, "thread_length"), THREAD_LENGTH.get(bare))
        reach = self.length(table.ball_to_tip, (*place, "ball_to_tip"), series.length if series else None)
        tapped = self.optional(table.tapped, (*place, "tapped"))
        engaged = self.optional(table.engaged, (*place, "engaged"))
        nut, nut_name = self.nut(table.lock_nut, bare, (*place, "lock_nut"))
        if self.log.marks == before and length > reach:
            told = f"a thread of {length:g} mm is longer than from ball to tip, {reach:g} mm"
            self.log.add(place, told, "the thread ends at the tip")
        if self.log.marks != before:
            return None
        return RodThread(
            joint=table.joint,
            size=size,
            diameter=diameter,
            pitch=pitch,
            hand=Hand(table.hand),
            length=length,
            ball_to_tip=reach,
            tapped=tapped,
            lock_nut=nut,
            nut_name=nut_name,
            engaged=engaged or 0.0,
            stated=engaged is not None,
            by_series=table.thread_length is None or table.ball_to_tip is None,
        )

    def thread(self, table: RodThreadTable, place: Place) -> tuple[str, float, float]:
        """What the thread is called, its diameter and its pitch in mm."""
        found = _SIZE.match(table.size.strip())
        pitch = None if table.pitch is None else self.bench.figures.size(table.pitch, (*place, "pitch"))
        if found is None or not standard_pitches(found[1]):
            return self.other_thread(table, place, pitch)
        bare, written = found[1], found[2]
        diameter = float(bare.removeprefix("M"))
        if table.diameter is not None:
            self.log.add((*place, "diameter"), f"{shown(bare)} says its diameter", "leave `diameter` out")
        if written is None:
            pitch = standard_pitches(bare)[0] if pitch is None else pitch
        elif pitch is None:
            pitch = float(written)
            if not any(abs(pitch - one) < GRAIN for one in standard_pitches(bare)):
                coarse, *fine = standard_pitches(bare)
                told = f"{shown(table.size)} is neither the coarse thread of {bare} ({coarse:g} mm) nor a fine one"
                told += f" ({', '.join(f'{one:g}' for one in fine)} mm)" if fine else ""
                self.log.add((*place, "size"), told, f'if it is so cut, write size = "{bare}", pitch = {written}')
        elif abs(pitch - float(written)) > GRAIN:
            self.log.add((*place, "pitch"), f"{pitch:g} mm is not what {shown(table.size)} says", "give one of them")
        if pitch > diameter:
            self.log.add((*place, "pitch"), f"a pitch of {pitch:g} mm on {bare} cannot be", "give mm for one turn")
        return f"{bare}×{pitch:g}", diameter, pitch

    def other_thread(self, table: RodThreadTable, place: Place, pitch: float | None) -> tuple[str, float, float]:
        """A thread that is no metric one of the standard: its diameter and pitch have to be told."""
        diameter = self.optional(table.diameter, (*place, "diameter"))
        if diameter is None or pitch is None:
            hint = "write M3 to M24, M8x1 for a fine thread, or give its `diameter` and `pitch` in mm"
            self.log.add((*place, "size"), f"the thread {shown(table.size)} is not known", hint)
            return table.size, 0.0, 0.0
        return table.size, diameter, pitch

    def length(self, given: Given | None, place: Place, series: float | None) -> float:
        """A length in mm as written, or of the series; a fault where neither is known."""
        if given is not None:
            return self.bench.figures.size(given, place)
        if series is None:
            hint = f"only rod ends {listed(THREAD_LENGTH)} of series K need not say it"
            self.log.add(place[:-1], f"{shown(place[-1])} is missing", hint)
            return 0.0
        return series

    def optional(self, given: Given | None, place: Place) -> float | None:
        return None if given is None else self.bench.figures.size(given, place)

    def nut(self, raw: object, size: str, place: Place) -> tuple[NutSize | None, str]:
        """The lock nut, and what it is called."""
        if raw is None:
            return None, ""
        if isinstance(raw, dict):
            table = checked_table(NutTable, raw, place, self.log)
            if table is None:
                return None, ""
            figure = self.bench.figures.size
            across, height = (
                figure(table.across_flats, (*place, "across_flats")),
                figure(table.height, (*place, "height")),
            )
            return NutSize(across, height), f"{across:g} mm across flats, {height:g} mm high"
        return self.standard_nut(str(raw), size, place)

    def standard_nut(self, given: str, size: str, place: Place) -> tuple[NutSize | None, str]:
        found = _NUT.match(given.strip())
        if found is None:
            hint = 'write "ISO 4032" (regular) or "ISO 4035" (thin), or { across_flats = 13, height = 5 }'
            self.log.add(place, f"the lock nut {shown(given)} is not known", hint)
            return None, ""
        standard, own = found[1], (found[2] or size).strip().partition("x")[0]
        if own != size:
            told = f"the lock nut is {shown(own)} and the thread {shown(size)}"
            self.log.add(place, told, f'write "{standard} {size}", or "{standard}" alone')
        elif size not in NUTS[standard]:
            told = f"the size of a nut {shown(f'{standard} {size}')} is not known here"
            self.log.add(place, told, f"known are {listed(NUTS[standard])}; else give across_flats and height")
        else:
            return NUTS[standard][size], f"{standard} {size}"
        return None, ""

    def rule(self, raw: object, place: Place) -> EngagementRule | None:
        """A rule by its name, or one of the builder's own."""
        if isinstance(raw, str):
            if raw not in RULES:
                hint = f"there are {listed(RULES)}; or {{ name = ..., diameters = 1.2 }}"
                self.log.add(place, f"there is no rule of engagement {shown(raw)}", hint)
            return RULES.get(raw)
        table = checked_table(EngagementRuleTable, raw, place, self.log)
        if table is None:
            return None
        self.log.check_name(table.name, "rule", (*place, "name"))
        keys = ("diameters", "millimetres", "turns", "share")
        given = {key: getattr(table, key) for key in keys if getattr(table, key) is not None}
        if len(given) != 1:
            self.log.add(place, f"a rule is one of {listed(keys)}", "give one of them")
        diameters, millimetres, turns, share = (
            0.0 if key not in given else self.asked(given[key], (*place, key)) for key in keys
        )
        return EngagementRule(table.name, table.source, diameters, millimetres, turns, share)

    def asked(self, given: Given, place: Place) -> float:
        most = 1.0 if place[-1] == "share" else _MOST_TURNS
        number = self.bench.figures.number(given, place)
        if not isnan(number) and not 0 < number <= most:
            self.log.add(place, f"{number:g} cannot be asked for", f"give a number above 0, up to {most:g}")
        return number

    def spanner(self, table: RodSpannerTable) -> SpannerSize:
        sizes: Sequence[float] = [
            self.bench.figures.size(getattr(table, key), (*self.place, "spanner", key))
            for key in ("length", "head", "thickness")
        ]
        return SpannerSize(*sizes)
