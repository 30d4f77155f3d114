"""Twins of parts and joints where the two sides are not alike: read once more as seen from the other side.

A twin is its original in the mirror. Where the file gives the twin's side points of its own (a point that it writes for
both sides, or a point of one side's part), whatever uses them is read again with the other side's points, seen in the
mirror under the names of the original, and then mirrored. So a name means the same in both. Names that say a side but
have nothing on the other one are noted.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from math import dist

from assembly.model.fault_list import listed, place_text, shown
from assembly.model.file_tables import JointTable, PartTable
from assembly.model.joint_reader import read_joint
from assembly.model.machine import FindingKind, Joint, Part, Shape, Vector
from assembly.model.mirror import flip_joint, flip_part, flip_point
from assembly.model.parts import PartRead, read_entry
from assembly.model.positions import Place
from assembly.model.quantities_read import Points
from assembly.model.reading import Bench, OwnPoints

_SIDES = {"left": 1, "right": -1}
"""The sign of y on the side that a word names; of other words the parts themselves tell."""
_MOST = 3
"""So many parts of a word on one side, and no more than one on the other, tell which side the word means."""


def note_names(tables: Mapping[str, PartTable], parts: Mapping[str, Part], bench: Bench) -> None:
    """Note what the names of parts and shapes promise and the file does not hold."""
    _note_wrong_sides(tables, parts, bench)
    _note_lonely_shapes(tables, bench)


def _note_wrong_sides(tables: Mapping[str, PartTable], parts: Mapping[str, Part], bench: Bench) -> None:
    """Parts that lie wholly on the side that their name does not say."""
    mirror = bench.mirror
    for word, other in mirror.words.items():
        lie: dict[str, int] = {}
        for name in tables:
            if mirror.holds(name, word) and name in parts and not mirror.says_both(name):
                lie[name] = _side_of(parts[name])
        meant = _SIDES.get(word.lower()) or -_SIDES.get(other.lower(), 0) or _majority(list(lie.values()))
        for name, side in lie.items():
            if meant and side == -meant:
                where = "the right (y below 0)" if side < 0 else "the left (y above 0)"
                told = f"its name says {word}, but all of it lies on {where}; its twin lies on the other side"
                bench.note(("parts", name), told, FindingKind.WRONG_SIDE)


def _side_of(part: Part) -> int:
    """1 where all of ``part`` has y above 0, -1 where below, else 0."""
    low, high = part.mesh.bounds[:, 1] if part.shapes else (0.0, 0.0)
    return int(low > 0) - int(high < 0)


def _majority(sides: list[int]) -> int:
    for sign in (1, -1):
        if sides.count(sign) >= _MOST and sides.count(-sign) <= 1:
            return sign
    return 0


def _note_lonely_shapes(tables: Mapping[str, PartTable], bench: Bench) -> None:
    """Shapes of parts without a twin whose name says a side, where no such part has the one of the other side."""
    mirror = bench.mirror
    named = {
        (name, number, key): shape
        for name, table in tables.items()
        if mirror.other_side(name) == name
        for key, number, shape in _named(table)
    }
    every = set(named.values())
    for (name, number, key), shape in named.items():
        other = mirror.other_side(shape)
        if other != shape and other not in every:
            word = next(word for pair in mirror.words.items() for word in pair if mirror.holds(shape, word))
            told = (
                f"{name} has no twin, so nothing mirrors {shown(shape)}: draw {shown(other)} too, or leave out {word}"
            )
            bench.note(("parts", name, key, number), told, FindingKind.WRONG_SIDE)


def _named(table: PartTable) -> Iterator[tuple[str, int, str]]:
    """Key, number and name of every shape and mesh that has a name."""
    for key, entries in (("shapes", table.shapes), ("meshes", table.meshes)):
        for number, entry in enumerate(entries):
            if isinstance(entry, dict) and isinstance(entry.get("name"), str):
                yield key, number, entry["name"]


LEAST_ASKEW = 1e-6
"""mm: two sides that differ by less are mirror images."""


@dataclass(frozen=True, eq=False)
class OtherSide:
    """The twins of one file, made from what was read of the originals; faults are noted in the bench's log."""

    bench: Bench
    own: Mapping[str, OwnPoints]
    parts: Mapping[str, PartTable]
    """Every part as the file writes it."""
    tables: Mapping[str, JointTable]
    """Every joint as the file writes it."""

    def complete(
        self, read: Mapping[str, PartRead], drawn: Mapping[str, Joint]
    ) -> tuple[dict[str, Part], dict[str, Joint]]:
        """All parts and joints with their twins; what is not alike on both sides is noted."""
        joints = self.joints(drawn)
        parts = self.all_parts(read, joints)
        self.note_sides()
        note_names(self.parts, parts, self.bench)
        return parts, joints

    @cached_property
    def shared(self) -> OwnPoints:
        """The file's points as the other side has them, seen in the mirror, by the names of this side."""
        mirror, known = self.bench.mirror, self.bench.points.known
        across = {name: mirror.other_side(name) for name in known}
        return {
            name: flip_point(other, known[other]) if other != name and other in known else known[name]
            for name, other in across.items()
        }

    def own_of(self, part: str) -> OwnPoints:
        """Own points of the twin of ``part``, seen in the mirror by the names of ``part``.

        A part without a twin has the same points on both sides of the mirror, each name standing for its other side.
        """
        mirror, twin = self.bench.mirror, self.bench.mirror.other_side(part)
        points = self.own.get(twin, {})
        if twin != part:
            return {mirror.other_side(name): flip_point(name, at) for name, at in points.items()}
        plain = {name: at for name, at in points.items() if mirror.other_side(name) == name}
        sided = {mirror.other_side(name): flip_point(name, at) for name, at in points.items() if name not in plain}
        return {**plain, **sided}

    def changed(self, *parts: str) -> set[str]:
        """Names of points that are not mirror images, the file's and those of ``parts``."""
        names = {name for name, at in self.bench.points.known.items() if not _same(at, self.shared[name])}
        for part in parts:
            here, there = self.own.get(part, {}), self.own_of(part)
            names |= {name for name in {**here, **there} if not _same(here.get(name), there.get(name))}
        return names

    def joints(self, drawn: Mapping[str, Joint]) -> dict[str, Joint]:
        """All joints: those ``drawn`` and their twins."""

        def flip(twin: str, joint: Joint) -> Joint:
            name = joint.name
            used = self.changed(joint.first, joint.second) & set(texts(self.tables[name].model_dump()))
            if not used:
                return flip_joint(self.bench.mirror, twin, joint)
            bench = self.bench_across()
            own = {part: self.own_of(part) for part in (joint.first, joint.second)}
            again = read_joint(name, self.tables[name], own, bench)
            self.note_faults(bench, ("joints", twin), used, (joint.first, joint.second))
            return flip_joint(self.bench.mirror, twin, again or joint)

        return {**drawn, **self.bench.mirror.twins(drawn, flip)}

    def all_parts(self, read: Mapping[str, PartRead], joints: Mapping[str, Joint]) -> dict[str, Part]:
        """All parts: those ``read``, and the twins with what the file writes for them."""
        mirror = self.bench.mirror
        made = {name: one.part for name, one in read.items()}
        for name, one in read.items():
            if mirror.has_twin(name):
                twin = mirror.other_side(name)
                made[twin] = self._twin(one, twin, read.get(twin), joints)
        return made

    def _twin(self, one: PartRead, twin: str, written: PartRead | None, joints: Mapping[str, Joint]) -> Part:
        """The twin of ``one``; what is ``written`` for it stands instead of what the mirror gives."""
        mirror, table = self.bench.mirror, self.parts.get(twin)
        keys = table.model_fields_set if table else set()
        shapes: list[Shape] = []
        for key in ("meshes", "shapes"):
            if written and key in keys:
                shapes += [shape for entry in getattr(written, key) for shape in entry]
            else:
                again = tuple(self._again(one, key, twin))
                shapes += flip_part(mirror, twin, replace(one.part, shapes=again), joints).shapes
        part = replace(flip_part(mirror, twin, replace(one.part, shapes=()), joints), shapes=tuple(shapes))
        if written:
            plain = {each.name for each in fields(Part)} & keys - {"shapes"}
            part = replace(part, **{key: getattr(written.part, key) for key in plain})
            told = f"the mirror of {one.part.name} but for its own {listed(sorted(keys))}"
            self.bench.note(("parts", twin), told, FindingKind.ONE_SIDE)
        return part

    def _again(self, one: PartRead, key: str, twin: str) -> Iterator[Shape]:
        """The shapes under ``key`` of the original; those that use points of one side as the other side has them."""
        name, table = one.part.name, self.parts[one.part.name]
        changed = self.changed(name)
        for number, (raw, shapes) in enumerate(zip(getattr(table, key), getattr(one, key), strict=True)):
            used = changed & set(texts(raw))
            if not used:
                yield from shapes
                continue
            bench = self.bench_across(self.own_of(name))
            yield from read_entry(raw, ("parts", name, key, number), bench.points, bench)
            self.note_faults(bench, ("parts", twin, key, number), used, (name,))

    def bench_across(self, own: OwnPoints | None = None) -> Bench:
        """A bench that sees the other side's points and gathers faults of its own."""
        log = self.bench.log.empty()
        figures = replace(self.bench.figures, log=log)
        points = Points(figures, self.shared).with_own(own or {})
        return replace(self.bench, log=log, figures=figures, points=points, findings=[], digests={}, drawn={})

    def note_faults(self, bench: Bench, place: Place, used: set[str], parts: tuple[str, ...]) -> None:
        """Faults of what was read again, told where the file writes what the other side of ``parts`` has of its own."""
        other_side = self.bench.mirror.other_side
        across = sorted(map(other_side, used))
        written = [("parts", part) for part in map(other_side, parts) if part in self.parts]
        for fault in bench.log.error().faults:
            message = f"with {listed(across)} as it is on this side {place_text(place)} cannot be made: {fault.message}"
            self.bench.log.add(written[0] if written else ("points", across[0]), message, fault.hint)

    def note_sides(self) -> None:
        """Note points that are not the same on both sides, so that nobody has to find it in the motion."""
        mirror, known = self.bench.mirror, self.bench.points.known
        for name, at in known.items():
            if mirror.has_twin(name) and not _same(at, self.shared[name]):
                other = mirror.other_side(name)
                off = dist(at or (), self.shared[name] or ())
                told = f"not the mirror image of {shown(name)}, {off:.4g} mm off: all that uses it on its side follows"
                self.bench.note(("points", other), told, FindingKind.ONE_SIDE)
        for part, points in self.own.items():
            for name in points if mirror.other_side(part) == part else ():
                other = mirror.other_side(name)
                if other != name and other not in points and other in known:
                    told = f"only {shown(name)} is this part's own: {shown(other)} stays as drawn"
                    self.bench.note(("parts", part), told, FindingKind.ONE_SIDE)


def originals(tables: Mapping[str, object], bench: Bench) -> dict[str, str]:
    """For every part of the file that is the twin of another of its parts: that other one."""
    return {twin: name for twin, name in bench.mirror.originals(tables).items() if twin in tables}


def _same(here: Vector | None, there: Vector | None) -> bool:
    if here is None or there is None:
        return here is there
    return dist(here, there) <= LEAST_ASKEW


def texts(value: object) -> Iterator[str]:
    """Every text in a value of the file."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, dict):
        for each in value.values():
            yield from texts(each)
    elif isinstance(value, list | tuple):
        for each in value:
            yield from texts(each)
