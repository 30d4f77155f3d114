"""Figures of wheels over the range, in words: what was found, and what is proven to be passed nowhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from assembly.record import DriveEntry, MeasureEntry
from assembly.report.text.layout import Block, Heading, Line, Table, Tone, without_empty
from assembly.report.text.measures_text import ENDING, TONES, left_of_limits, limits_words, outward
from assembly.report.text.words import figure, setting, unit_sign

KIND = "wheel"
"""What kind of measure a wheel's figure is in a record."""
RANGE_COLUMNS = (
    "figure",
    "all at 0",
    "least",
    "most",
    "proven",
    "limits",
    "margin",
    "least at",
    "most at",
)
RANGE_FIGURES = frozenset(RANGE_COLUMNS[1:7])


def of_wheels(measures: Sequence[MeasureEntry]) -> list[MeasureEntry]:
    """The figures of wheels among the measures of a record."""
    return [one for one in measures if one.kind == KIND]


def of_file(measures: Sequence[MeasureEntry]) -> list[MeasureEntry]:
    """The measures that the file names."""
    return [one for one in measures if one.kind != KIND]


def wheel_range_blocks(measures: Sequence[MeasureEntry], drives: Mapping[str, DriveEntry]) -> Iterator[Block]:
    """The table of the figures of wheels among ``measures``, and why one has no bound."""
    told = of_wheels(measures)
    if not told:
        return
    yield Heading(
        "Wheels over the whole range: least and most found, and what is proven never to be passed", aside="the range"
    )
    table = Table(
        columns=RANGE_COLUMNS,
        rows=tuple(range_row(one, drives) for one in told),
        figures=RANGE_FIGURES,
        tones=tuple(TONES[one.verdict or "clear"] for one in told),
        row_is=("figure", "figures"),
    )
    yield without_empty(table)
    for one in told:
        if one.why and (one.verdict == "undecided" or None in (one.proven_least, one.proven_most)):
            yield Line(f"{one.name}: {one.why}", Tone.OPEN if one.verdict == "undecided" else Tone.QUIET, 1)


def range_row(one: MeasureEntry, drives: Mapping[str, DriveEntry]) -> tuple[str, ...]:
    """A figure in the columns of the table; bounds are rounded outwards, margins down."""
    sign = unit_sign(one.unit)
    still = one.zero is not None and not one.drives
    return (
        one.name + ENDING.get(one.verdict or "", ""),
        "–" if one.zero is None else f"{figure(one.zero)}{sign}",
        outward(one.least, sign, up=False),
        outward(one.most, sign, up=True),
        f"{outward(one.proven_least, '', up=False)} to {outward(one.proven_most, sign, up=True)}",
        limits_words(one),
        left_of_limits(one),
        "every setting" if still else setting(one.at_least, drives) if one.least is not None else "–",
        "every setting" if still else setting(one.at_most, drives) if one.most is not None else "–",
    )
