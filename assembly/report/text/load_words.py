"""Newtons, ratings and toggles in words, for both reports of loads."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import LoadWord, NotToldEntry, RatingEntry
from assembly.report.text.layout import Block, Heading, Line, Tone
from assembly.report.text.words import count, figure, short

TONES: dict[LoadWord, Tone] = {
    "exceeded": Tone.BAD,
    "open": Tone.OPEN,
    "within": Tone.GOOD,
    "not rated": Tone.OPEN,
}
RATING, JOINT = ("rating", "ratings"), ("joint's force", "joints' forces")
OF = {"whole": "whole force", "radial": "across its line", "axial": "along its line"}
SOFT = (
    "near a toggle small loads make large forces, and play and flex make large motions: figures there are the model's, "
    "not the machine's"
)


def newtons(value: float | None, at_least: float) -> str:
    """A force or moment, or what it cannot fall below."""
    return f"at least {figure(at_least, 1)}" if value is None else figure(value, 1)


def component(value: float | None, has_line: bool) -> str:
    """The part of a force along or across a line; a dash without a line."""
    if not has_line:
        return "–"
    return "open" if value is None else figure(value, 1)


def reserve(entry: RatingEntry) -> str:
    """What a rating leaves."""
    if entry.reserve_n is None:
        most = entry.rating_n - entry.at_least_n
        return f"at most {figure(most, 1)}"
    return figure(entry.reserve_n, 1)


def borne(joint: str, entry: RatingEntry) -> str:
    """A joint's force beside its rating as a sentence's end."""
    of = "" if entry.of == "whole" else f" {OF[entry.of]}"
    force = f"{newtons(entry.force_n, entry.at_least_n)} N"
    return f"{joint} carries {force}{of}; it is rated {short(entry.rating_n, 1)} N"


def share(value: float) -> str:
    """How near a toggle, 0 is a dead centre."""
    return figure(value, 4)


def load_advice(verdict: LoadWord, joint: str) -> Iterator[str]:
    """What to do about loads, by the verdict and the joint that has the least margin, empty if there is none."""
    if verdict == "exceeded":
        yield f"give {joint} something that is rated for more, or lessen what pushes it: its load, or the lever arm"
    elif verdict == "open" and joint:
        yield f"{joint} is held more than once, so stiffness decides: let one of its holds go free, and run it again"
    elif verdict == "open":
        yield "end the range before the settings that could not be looked at: `swingroom sweep` says why"
    elif verdict == "not rated":
        yield "write what each joint stands into it, `rating = ...` in newtons: only then is it judged"


def not_rated_lines(joints: Sequence[str]) -> Iterator[Block]:
    """Joints that nothing can be said of, and how to change that."""
    if joints:
        yield Heading(f"No rating given: {', '.join(joints)}", aside=f"{count(len(joints), 'joint')} without a rating")
        ask = f"write `rating = ...` in newtons into [joints.{joints[0]}] and the others"
        more = "of a mirrored pair into the one that the file writes out; none is assumed, tables of makers disagree"
        yield Line(f"{ask}, {more}", indent=1)


def aside_lines(entries: Sequence[NotToldEntry]) -> Iterator[Block]:
    """What is not reported, grouped by its reason."""
    groups: dict[str, list[str]] = {}
    for entry in entries:
        groups.setdefault(entry.reason, []).append(entry.about)
    for reason, names in groups.items():
        yield Line(f"{', '.join(names)}: {reason}", Tone.QUIET, 1)
