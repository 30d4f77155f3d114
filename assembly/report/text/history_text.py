"""Earlier runs in words: the list of them, and one pair over time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from assembly.record import DriveEntry, PairPoint, RunEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import below, count, depth_told, figure, gap, least_told, local_time, setting, short

TONES = {"clear": Tone.GOOD, "fails": Tone.BAD, "undecided": Tone.OPEN}
SHORT_NAME = 10
"""Signs of a commit or digest that are shown."""


def runs_blocks(runs: Sequence[RunEntry], about: str, place: str) -> Iterator[Block]:
    """The list of runs of ``about``, the newest first; ``place``: where the history lies."""
    yield Line(f"history: {place}", Tone.QUIET)
    if not runs:
        yield Line(f"No run of {about} was kept yet; `swingroom sweep FILE --keep` keeps one.")
        return
    yield Heading(f"{count(len(runs), 'run')} of {about}, the newest first")
    yield Table(
        columns=("run", "made", "verdict", "margin mm", "seconds", "commit", "file", "digest", "machine"),
        rows=tuple(map(_run, runs)),
        figures=frozenset(("run", "margin mm", "seconds")),
        tones=tuple(TONES[run.verdict] for run in runs),
    )
    yield Line("margin: the least clearance found of any pair, less what it must keep; made: local time", Tone.QUIET, 1)


def _run(run: RunEntry) -> tuple[str, ...]:
    return (
        str(run.number),
        local_time(run.made),
        run.verdict.upper(),
        "–" if run.least_room is None else gap(run.least_room),
        figure(run.seconds, 1),
        (run.commit or "–")[:SHORT_NAME],
        run.file,
        run.digest[:SHORT_NAME],
        run.name,
    )


def pair_blocks(
    points: Sequence[PairPoint], names: tuple[str, str], drives: Mapping[str, DriveEntry]
) -> Iterator[Block]:
    """One pair over time, the newest run first; ``drives`` give the units."""
    yield Heading(f"{names[0]} – {names[1]} in {count(len(points), 'run')}, the newest first")
    yield Table(
        columns=("run", "made", "verdict", "least mm", "proven mm", "required", "commit", "at"),
        rows=tuple(_point(point, drives) for point in points),
        figures=frozenset(("run", "least mm", "proven mm", "required")),
        tones=tuple(TONES[point.verdict] for point in points),
    )


def _point(point: PairPoint, drives: Mapping[str, DriveEntry]) -> tuple[str, ...]:
    least = least_told(point.least_mm, point.proven_mm, point.verdict, closed_in=point.closed_in)
    if point.depth_mm is not None:
        least = f"{depth_told(point.depth_mm, point.depth_at_most_mm)} deep"
    proven = "–" if point.proven_mm is None or point.verdict == "fails" else figure(below(point.proven_mm))
    known = {name: value for name, value in point.at.items() if name in drives}
    at = setting(known, drives) if known == point.at else ", ".join(f"{k} {short(v)}" for k, v in point.at.items())
    words = str(point.number), local_time(point.made), point.verdict.upper(), least, proven, short(point.required_mm)
    return *words, (point.commit or "–")[:SHORT_NAME], at
