"""Load cases at one setting in words: the worst first, then what every joint and drive carries."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import CarriedEntry, CaseEntry, JointLoadEntry, LoadsRecord, RatingEntry, StopLoadEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.load_words import (
    JOINT,
    OF,
    RATING,
    SOFT,
    TONES,
    aside_lines,
    borne,
    component,
    load_advice,
    newtons,
    not_rated_lines,
    reserve,
    share,
)
from assembly.report.text.motion_text import unrolled_lines
from assembly.report.text.sweep_text import caution
from assembly.report.text.words import bracketed, count, figure, moved_parts, setting, short, told_findings

FIGURES = frozenset(("force N", "load rating N", "margin N", "along", "across", "moment N·m"))


def loads_blocks(record: LoadsRecord) -> Iterator[Block]:
    """The whole answer to load cases at one setting."""
    yield _headline(record)
    yield Line(f"{record.machine.name} at {setting(record.at, record.drives)}", Tone.QUIET)
    for case in record.cases:
        yield from _case(case)
    if record.near_toggles:
        yield Heading("Near a toggle at this setting")
        for near in record.near_toggles:
            about = f"{', '.join(near.parts)} at {', '.join(near.joints)}"
            yield Line(f"{about}: held softly (share {share(near.share)}, 0 is a dead centre)", Tone.OPEN, 1)
        yield Line(SOFT, indent=1)
    yield from not_rated_lines(record.not_rated)
    yield from _notes(record)
    yield from unrolled_lines(record.unrolled)
    yield Heading("What to do now")
    worst = _worst(record)
    yield from (Line(f"- {told}", indent=1) for told in load_advice(record.verdict, worst[1] if worst else ""))
    yield Line("- one setting is not the range: run it again with `--worst`", indent=1)
    yield Line("")
    yield caution()


def _headline(record: LoadsRecord) -> Line:
    told = _worst(record)
    if told is None:
        return Line("NOT JUDGED: no joint of this file has a rating", TONES["not rated"])
    name, joint, rating = told
    worst = f"{borne(joint, rating)} ({name})"
    if record.verdict == "exceeded":
        return Line(f"EXCEEDED: {worst}", Tone.BAD)
    if record.verdict == "open":
        return Line(f"OPEN: {worst}; the rest depends on stiffness", Tone.OPEN)
    soft = "; parts are near a toggle, see below" if record.near_toggles else ""
    return Line(f"WITHIN: every rated joint bears this at this one setting; least margin: {worst}{soft}", Tone.GOOD)


def _worst(record: LoadsRecord) -> tuple[str, str, RatingEntry] | None:
    """Case, joint and rating with the least margin of those with the verdict of the whole; None if none is rated."""
    told = [
        (case.name, joint.joint, rating)
        for case in record.cases
        for way in _ways(case)
        if way.verdict == record.verdict
        for joint in way.joints
        for rating in joint.ratings
        if rating.verdict == record.verdict
    ]
    return min(told, key=lambda entry: entry[2].rating_n - entry[2].at_least_n, default=None)


def _ways(case: CaseEntry) -> Iterator[CarriedEntry]:
    """With all drives held, and with the stop."""
    yield case.held
    if case.stop is not None and case.stop.held is not None:
        yield case.stop.held


def _case(case: CaseEntry) -> Iterator[Block]:
    yield Heading(f"{case.name}: drives held{', no stop' if case.stop else ''}")
    yield from _held(case.held)
    if case.stop is not None:
        yield from _stop(case.name, case.stop)
    yield from aside_lines(case.on_fixed)


def _stop(name: str, stop: StopLoadEntry) -> Iterator[Block]:
    yield Heading(f"{name}: the stop bears the load that drive {stop.drive} held")
    if stop.held is None or stop.force_n is None:
        yield Line(f"the load pulls {stop.striker} away from {stop.struck}: the stop carries nothing here", indent=1)
        return
    yield Line(f"{stop.struck} pushes {stop.striker} with {figure(stop.force_n, 1)} N", indent=1)
    yield from _held(stop.held)


def _held(held: CarriedEntry) -> Iterator[Block]:
    rated = [(joint, rating) for joint in held.joints for rating in joint.ratings]
    if rated:
        yield Table(
            columns=("verdict", "force N", "load rating N", "margin N", "joint", "rated for"),
            rows=tuple(
                (
                    rating.verdict.upper(),
                    newtons(rating.force_n, rating.at_least_n),
                    short(rating.rating_n, 1),
                    reserve(rating),
                    joint.joint,
                    OF[rating.of],
                )
                for joint, rating in rated
            ),
            figures=FIGURES,
            tones=tuple(TONES[rating.verdict] for _, rating in rated),
            row_is=RATING,
        )
        yield Line("")
    if held.joints:
        yield Table(
            columns=("joint", "kind", "force N", "along", "across", "moment N·m", "force on"),
            rows=tuple(map(_joint_row, held.joints)),
            figures=FIGURES,
            row_is=JOINT,
        )
    yield from _open(held)
    for effort in held.efforts:
        yield Line(f"drive {effort.drive} must give {figure(effort.value, 3)} {effort.unit}", indent=1)
    for roll in held.rolls:
        moment = f"{figure(roll.moment_nm, 3)} N·m"
        yield Line(f"{roll.part} is turned about its own line by {moment}, which nothing holds", Tone.OPEN, 1)


def _joint_row(joint: JointLoadEntry) -> tuple[str, ...]:
    return (
        joint.joint,
        joint.kind,
        newtons(joint.force_n, joint.at_least_n),
        component(joint.along_n, joint.has_line),
        component(joint.across_n, joint.has_line),
        newtons(joint.moment_nm, joint.moment_at_least_nm),
        f"{joint.second}{_force(joint)}",
    )


def _force(joint: JointLoadEntry) -> str:
    if joint.force is not None:
        return f" {bracketed(joint.force, 1)}"
    if len(joint.force_open) == len(joint.at):
        return ": open every way"
    return f": open along {' and '.join(bracketed(way) for way in joint.force_open)}"


def _open(held: CarriedEntry) -> Iterator[Block]:
    """Joints that equilibrium does not settle, by how much of it is left."""
    forces = [joint for joint in held.joints if joint.force_n is None]
    moments = [joint.joint for joint in held.joints if joint.force_n is not None and joint.moment_nm is None]
    if forces:
        least = ", ".join(f"{joint.joint} at least {figure(joint.at_least_n, 1)} N" for joint in forces)
        yield Line(f"{least}; the rest depends on stiffness: held more than once", Tone.OPEN, 1)
    for joint in forces:
        if joint.across_n is not None and any(rating.of == "whole" for rating in joint.ratings):
            yield Line(f"{joint.joint}: the force across its line is settled, `radial_rating` rates that", indent=1)
    if moments:
        why = "the forces are settled, the moments depend on stiffness: held more than once"
        yield Line(f"{', '.join(moments)}: {why}", Tone.OPEN, 1)


def _notes(record: LoadsRecord) -> Iterator[Block]:
    told = list(told_findings(record.findings))
    told += [f"with all drives at 0 an edited length moved {text}" for text in moved_parts(record.assembled)]
    if told or record.not_told:
        yield Heading("Worth knowing", aside=count(len(told) + len(record.not_told), "finding"))
        yield from (Line(text, indent=1) for text in told)
        yield from aside_lines(record.not_told)
