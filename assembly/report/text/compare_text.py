"""What changed between two runs, in words: what fails or passes now, what got worse or better, what was edited."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from assembly.record import Comparison, JointChange, JointSide, PairChange, PairSide, TurnWord
from assembly.report.text.change_words import mended_and_worse
from assembly.report.text.compared_measures import changed_measures, changed_tables
from assembly.report.text.edits_text import edit_blocks
from assembly.report.text.layout import Block, Heading, Line, Tone
from assembly.report.text.one_screen import fits, verdict_again
from assembly.report.text.words import (
    below,
    count,
    depth_told,
    figure,
    least_told,
    local_time,
    pair_setting,
    part,
    setting,
    short,
    unit_sign,
)

MOST_SHOWN = 40
"""Lines of one kind of change."""
FEWER_SHOWN = (5, 4, 3, 2, 1)
"""The same on one screen, as many as fit."""
NEW_SHOWN = 5
"""New pairs that are clear, the nearest first."""
GRAIN = 1e-6
"""degrees or mm: a limit passed by less is kept."""
AS_SEEN = ", as far as was seen"
HEADINGS: dict[TurnWord, tuple[str, Tone]] = {
    "fails": ("Did not fail, now fails", Tone.BAD),
    "open": ("Was decided, now is not", Tone.OPEN),
    "passes": ("Got better: now clear", Tone.GOOD),
    "worse": ("Got worse", Tone.PLAIN),
    "better": ("Got better", Tone.PLAIN),
}


def compare_screen(found: Comparison) -> Iterator[Block]:
    """All of it where it fits on one screen, else as much of every kind of change as fits; the answer again, last."""
    ways = [tuple(compare_blocks(found, most)) for most in (MOST_SHOWN, *FEWER_SHOWN)]
    shown = next((blocks for blocks in ways if fits(blocks)), ways[-1])
    yield from shown
    yield from verdict_again(shown)


def compare_blocks(found: Comparison, most: int = MOST_SHOWN) -> Iterator[Block]:
    """The comparison, ``most`` lines of every kind of change."""
    yield from _runs(found)
    yield Line("")
    yield _answer(found)
    yield Line(f"Before: {found.before.verdict.upper()}, {found.before.reason}.")
    yield Line(f"Now: {found.now.verdict.upper()}, {found.now.reason}.")
    for turn in HEADINGS:
        yield from _turned(found, turn, most)
    yield from _new(found, most)
    yield from _gone(found, most)
    yield from _measures(found, most)
    edited = tuple(edit_blocks(found))
    yield from edited[: most + 1]
    yield from _more(edited[1:], most)
    yield Line("")
    yield Line(_same(found), Tone.QUIET)


def _runs(found: Comparison) -> Iterator[Block]:
    before, now = found.before, found.now
    if before.name == now.name:
        yield Line(
            f"{now.name}: {before.told} ({local_time(before.made)}) against {now.told} ({local_time(now.made)})",
            Tone.QUIET,
        )
    else:
        for side in (before, now):
            yield Line(f"{side.told}: {side.name} ({local_time(side.made)})", Tone.QUIET)


def _answer(found: Comparison) -> Line:
    allowed = f"{short(found.shrank_mm)} mm"
    mended = sum(pair.turn == "passes" for pair in found.pairs)
    mended += sum(joint.turn == "passes" for joint in found.joints)
    good = (
        f"; got better: {count(mended, 'pair, joint, rod or measure', 'pairs, joints, rods or measures')} now clear"
        if mended
        else ""
    )
    if both := mended_and_worse(found):
        return Line(f"{both}; but {'; '.join(_reasons(found, allowed))}{good}", Tone.OPEN)
    if found.worse:
        return Line(f"WORSE: {'; '.join(_reasons(found, allowed))}{good}", Tone.BAD)
    if found.opened:
        what = count(found.opened, "thing that was decided now is not", "things that were decided now are not")
        return Line(f"OPEN: nothing is known to have got worse, but {what}{good}", Tone.OPEN)
    return Line(f"NOT WORSE: nothing fails that did not, no clearance shrank by more than {allowed}{good}", Tone.GOOD)


def _reasons(found: Comparison, allowed: str) -> Iterator[str]:
    pairs = sum(pair.turn == "fails" for pair in found.pairs)
    joints = sum(joint.turn == "fails" for joint in found.joints)
    new = sum(pair.now is not None and pair.now.verdict == "fails" for pair in found.new_pairs)
    shrank = sum(pair.too_much and pair.turn != "fails" for pair in found.pairs)
    told = (
        (pairs, "pair fails that did not", "pairs fail that did not"),
        (joints, "joint, rod or measure fails that did not", "joints, rods or measures fail that did not"),
        (new, "new pair fails", "new pairs fail"),
        (shrank, f"clearance shrank by more than {allowed}", f"clearances shrank by more than {allowed}"),
    )
    yield from (count(number, one, more) for number, one, more in told if number)
    if found.reach is not None and found.reach.turn == "fails":
        yield "settings of the range cannot be reached any more"


def _turned(found: Comparison, turn: TurnWord, most: int) -> Iterator[Block]:
    told = changed_lines(found, turn)
    if told:
        yield Heading(HEADINGS[turn][0])
        yield from told[:most]
        yield from _more(told, most)


def changed_lines(found: Comparison, turn: TurnWord) -> list[Line]:
    """A line for each pair, joint and rod of which this is what became, and for the reach of the range."""
    tone = HEADINGS[turn][1]
    told = [
        Line(_pair(pair, found), Tone.BAD if pair.too_much else tone, 1) for pair in found.pairs if pair.turn == turn
    ]
    told += [Line(_joint(joint, found), tone, 1) for joint in found.joints if joint.turn == turn]
    if found.reach is not None and found.reach.turn == turn:
        told.append(Line(_reach(found.reach.before_share, found.reach.now_share), tone, 1))
    return told


def _more(told: Sequence[object], most: int) -> Iterator[Block]:
    if len(told) > most:
        where = "--json has all" if most == MOST_SHOWN else "`--all` prints them"
        yield Line(f"and {len(told) - most} more: {where}", indent=1)


def _pair(pair: PairChange, found: Comparison) -> str:
    before, now = pair.before, pair.now
    if before is None or now is None:
        return ""
    decided = pair.turn in ("fails", "open", "passes")
    was = state(before) + (f" at {pair_setting(before, found.drives)}" if decided and before.verdict == "fails" else "")
    became = f"{was}, now {state(now)}{_nearest_now(pair, before, now)}"
    if not pair.change_mm and was == state(now):
        became = f"{was} as before"
    return f"{_names(pair)}: {became} at {pair_setting(now, found.drives)}{_by(pair)}{_asked(pair, before, now)}"


def _nearest_now(pair: PairChange, before: PairSide, now: PairSide) -> str:
    """The shapes that are nearest now, where the pair is named by those that were."""
    shapes = (now.shape_a, now.shape_b)
    if pair.turn != "passes" or not any(shapes) or shapes == (before.shape_a, before.shape_b):
        return ""
    return f" ({shapes[0] or pair.a} to {shapes[1] or pair.b})"


def _asked(pair: PairChange, before: PairSide, now: PairSide) -> str:
    """What a pair that now fails must keep, and what it had to keep where that is another figure."""
    if pair.turn != "fails" or (now.room_mm or 0) <= 0:
        return ""
    other = f", before {short(before.required_mm)} mm" if before.required_mm != now.required_mm else ""
    return f"; {short(now.required_mm)} mm is required{other}"


def _names(pair: PairChange) -> str:
    side = pair.before if pair.turn == "passes" else pair.now or pair.before
    shapes = (side.shape_a, side.shape_b) if side else ("", "")
    return f"{part(pair.a, shapes[0])} – {part(pair.b, shapes[1])}"


def _by(pair: PairChange) -> str:
    if pair.change_mm is None:
        return ""
    way = "more" if pair.change_mm > 0 else "less"
    seen = AS_SEEN if pair.as_seen else ""
    return f" ({'at least ' if pair.at_least else ''}{figure(abs(pair.change_mm))} mm {way}{seen})"


def state(side: PairSide) -> str:
    """How much room a pair had, or how deep it was struck."""
    open_ = ", not proven" if side.verdict == "undecided" else ""
    if side.room_mm is None:
        return f"not looked at{open_}"
    if side.room_mm < 0:
        return f"struck {depth_told(-side.room_mm, side.deep_at_most_mm)} mm deep"
    if side.swallowed:
        return "one inside the other"
    if not side.room_mm:
        return "touching"
    return f"{least_told(side.room_mm, side.proven_mm, side.verdict, closed_in=side.closed_in)} mm of clearance{open_}"


def _joint(joint: JointChange, found: Comparison) -> str:
    name = joint.name if joint.motion == "misalignment" else f"{joint.name} {joint.motion}"
    sign = unit_sign(joint.unit)
    if joint.before is None or joint.now is None:
        side, when = (joint.now, "a new limit") if joint.now else (joint.before, "its limit was taken away")
        return f"{name}: {when}, {_left(side, joint)}" if side else name
    at = f" at {setting(joint.now.at, found.drives)}" if joint.now.at else ""
    text = f"{name}: {_left(joint.before, joint)}, now {_left(joint.now, joint)}{at}"
    if joint.before.limit != joint.now.limit:
        limits = (f"{short(side.limit or 0.0)}{sign}" for side in (joint.before, joint.now))
        text += f" (limit {' → '.join(limits)})"
    return text


def _left(side: JointSide, joint: JointChange) -> str:
    sign = unit_sign(joint.unit)
    open_ = ", not proven" if side.verdict == "undecided" else ""
    if side.reserve is None:
        return f"not measured{open_}"
    if joint.motion == "threads":
        kept = side.reserve >= -GRAIN
        told = _rest(side.reserve) if kept else figure(-below(side.reserve))
        return f"{told} mm {'more' if kept else 'less'} in than must be"
    if joint.motion == "roll":
        rolls = f"rolls {_rest(side.reserve)}{sign} freely" if side.reserve >= -GRAIN else "binds"
        return rolls + open_
    if side.reserve < -GRAIN:
        return f"{figure(-side.reserve)}{sign} past its limit{open_}"
    return f"{_rest(side.reserve)}{sign} short of its limit{open_}"


def _rest(reserve: float) -> str:
    return figure(below(max(reserve, 0.0)))


def _reach(before: float, now: float) -> str:
    return f"{short(100 * before)} % of the range could not be reached or proven, now {short(100 * now)} %"


def _measures(found: Comparison, most: int) -> Iterator[Block]:
    """What measures, and other figures, come to now."""
    for heading, told in changed_measures(found):
        if told:
            yield Heading(heading)
            yield from told[:most]
            yield from _more(told, most)
    if most == MOST_SHOWN:
        yield from changed_tables(found)


def _new(found: Comparison, most: int) -> Iterator[Block]:
    if not found.new_pairs:
        return
    yield Heading(f"New: {count(len(found.new_pairs), 'pair')} that were not checked before")
    tones = {"fails": Tone.BAD, "undecided": Tone.OPEN, "clear": Tone.PLAIN}
    sides = [(pair, pair.now) for pair in found.new_pairs if pair.now is not None]
    trouble = [(pair, side) for pair, side in sides if side.verdict != "clear"]
    clear = [(pair, side) for pair, side in sides if side.verdict == "clear"]
    fine = min(most, NEW_SHOWN)
    for pair, side in trouble[:most] + clear[:fine]:
        at = setting(side.at, found.drives)
        yield Line(f"{side.verdict.upper()}: {_names(pair)}, {state(side)} at {at}", tones[side.verdict], 1)
    yield from _more(trouble, most)
    if len(clear) > fine:
        yield Line(f"and {len(clear) - fine} more that are clear", indent=1)


def _gone(found: Comparison, most: int) -> Iterator[Block]:
    if not found.gone_pairs:
        return
    yield Heading(f"Not checked any more: {count(len(found.gone_pairs), 'pair')}")
    by_reason: dict[str, list[PairChange]] = {}
    for pair in found.gone_pairs:
        by_reason.setdefault(pair.why, []).append(pair)
    for reason, pairs in list(by_reason.items())[:most]:
        failed = any(pair.before is not None and pair.before.verdict == "fails" for pair in pairs)
        more = f" and {len(pairs) - most} more" if len(pairs) > most else ""
        told = f"{reason}: {', '.join(map(_gone_pair, pairs[:most]))}{more}"
        yield Line(told, Tone.OPEN if failed else Tone.PLAIN, 1)
    yield from _more(list(by_reason), most)


def _gone_pair(pair: PairChange) -> str:
    failed = pair.before is not None and pair.before.verdict == "fails"
    return f"{pair.a} – {pair.b}{f' ({state(pair.before)} before)' if pair.before and failed else ''}"


def _same(found: Comparison) -> str:
    joints = count(found.same_joints, "joint, rod or measure", "joints, rods or measures")
    told = f"{count(found.same_pairs, 'pair')} and {joints} as before"
    if found.vague_pairs:
        told += (
            f"; {found.vague_pairs} of the pairs were not closed in on in one of the runs or both: "
            "their verdict is the same, of their clearance only what lies beyond the proven bounds would show"
        )
    return told
