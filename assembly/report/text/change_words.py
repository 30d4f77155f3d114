"""A comparison of two runs in a few words, for a line that has other things to say too."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.record import Comparison, JointChange, PairChange
from assembly.report.text.words import figure, unit_sign

MOST_TOLD = 2
"""Changes told one by one."""
BOTH = "BETTER AND WORSE"
AS_BEFORE = "as before"
TURNED = {"fails": "now fails", "open": "is not decided any more", "passes": "is all right now"}


def change_words(comparison: Comparison) -> str:
    """What matters most, and how much more there is."""
    told = [*_reach(comparison), *map(_pair, _pairs(comparison)), *map(_joint, comparison.joints)]
    if not told:
        edited = comparison.before.digest != comparison.now.digest or comparison.files
        return f"{AS_BEFORE}, though the file was edited" if edited else AS_BEFORE
    more = f" and {len(told) - MOST_TOLD} more" if len(told) > MOST_TOLD else ""
    return f"{_answer(comparison)}: {', '.join(told[:MOST_TOLD])}{more}"


def mended_and_worse(comparison: Comparison) -> str:
    """Both verdicts, where the machine does not fail any more though something got worse; else nothing."""
    before, now = comparison.before.verdict, comparison.now.verdict
    mended = before == "fails" and now != "fails"
    return f"{BOTH}: {before.upper()} before, {now.upper()} now" if comparison.worse and mended else ""


def _answer(comparison: Comparison) -> str:
    return mended_and_worse(comparison) or ("WORSE" if comparison.worse else "changed")


def _reach(comparison: Comparison) -> Iterator[str]:
    reach = comparison.reach
    if reach is not None:
        what = "less" if reach.turn in ("fails", "open", "worse") else "more"
        yield f"{what} of the range can be reached"


def _pairs(comparison: Comparison) -> Iterator[PairChange]:
    """New pairs that fail come before those that changed; pairs that are gone, last."""
    yield from (pair for pair in comparison.new_pairs if pair.now is not None and pair.now.verdict == "fails")
    yield from comparison.pairs
    yield from comparison.gone_pairs


def _pair(pair: PairChange) -> str:
    names = f"{pair.a} – {pair.b}"
    if pair.before is None:
        return f"{names} is new and fails"
    if pair.now is None:
        return f"{names} is not checked any more"
    pieces = [TURNED[pair.turn]] if pair.turn in TURNED else []
    if pair.change_mm is not None:
        least = "at least " if pair.at_least else ""
        way = "more" if pair.change_mm > 0 else "less"
        seen = " as far as was seen" if pair.as_seen else ""
        pieces.append(f"{least}{figure(abs(pair.change_mm))} mm {way} clearance{seen}")
    return f"{names} {' with '.join(pieces)}"


def _joint(joint: JointChange) -> str:
    if joint.before is None:
        return f"{joint.name} has a limit now"
    if joint.now is None:
        return f"{joint.name} has no limit any more"
    pieces = [TURNED[joint.turn]] if joint.turn in TURNED else []
    if joint.change is not None:
        more = "more" if joint.change > 0 else "less"
        pieces.append(f"{figure(abs(joint.change), 1)}{unit_sign(joint.unit)} {more} margin")
    return f"{joint.name} {' with '.join(pieces) or 'has another limit'}"
