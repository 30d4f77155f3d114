"""What a picture, a film or a moving model shows, in words; above all what it leaves out of the range."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from assembly.record import DriveEntry, FilmRecord, LeftOutEntry, ModelRecord
from assembly.report.text.layout import Block, Heading, Line, Table, Tone
from assembly.report.text.words import chain, count, figure, setting, signed, tiny, unit_sign, unrolled_words


def model_blocks(record: ModelRecord) -> Iterator[Block]:
    """The motions of a model with their largest error, and what they leave out."""
    motions = count(len(record.tracks), "motion")
    yield Line(f"{record.name} at {setting(record.at, record.drives)}: {count(record.parts, 'part')}, {motions}")
    if record.tracks:
        yield Heading("Motions, each from that setting to both ends and back")
        yield Table(
            columns=("drive", "from", "to", "keys", "off by mm"),
            rows=tuple(
                (
                    one.drive,
                    *(f"{signed(end)}{unit_sign(record.drives[one.drive].unit)}" for end in (one.from_, one.to)),
                    str(one.keys),
                    figure(one.error_mm, 3),
                )
                for one in record.tracks
            ),
            figures=frozenset({"from", "to", "keys", "off by mm"}),
        )
        yield Line(
            "keys: solved poses; off by: how far any part is from its solved pose between two keys, at most, as "
            "compared at a quarter, half and three quarters of every step",
            Tone.QUIET,
            1,
        )
    yield from left_out_lines(record.left_out, record.drives)
    yield from unrolled_lines(record.unrolled)


def film_blocks(record: FilmRecord) -> Iterator[Block]:
    """The setting of a picture, or how many a film shows, and what it leaves out."""
    several = f"{len(record.settings)} settings, each of them solved"
    shown = setting(record.settings[0], record.drives) if len(record.settings) == 1 else several
    yield Line(f"{record.name}: {shown}")
    yield from left_out_lines(record.left_out, record.drives)
    yield from unrolled_lines(record.unrolled)


def unrolled_lines(parts: Sequence[str]) -> Iterator[Block]:
    """That parts are not shown at the roll at which they are judged."""
    if parts:
        yield Line(f"{unrolled_words(parts)}.", Tone.OPEN)


def left_out_lines(left_out: Iterable[LeftOutEntry], drives: Mapping[str, DriveEntry]) -> Iterator[Block]:
    """Each stretch that is not shown, and why."""
    for one in left_out:
        ends = [setting(at, drives) for at in (one.first, one.last)]
        stretch = ends[0] if ends[0] == ends[1] else f"from {ends[0]} to {ends[1]}"
        loop = f"the loop {chain(one.lost.loop)} misses by {tiny(one.lost.miss_mm)} mm"
        yield Line(
            f"LEFT OUT: {stretch}; the machine cannot be put together at {setting(one.lost.at, drives)}, where {loop}.",
            Tone.BAD,
        )
