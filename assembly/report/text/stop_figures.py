"""The figures of one stop in words: where it acts, how it is struck, what it takes; printed so that they add up."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from math import pi, sqrt

from assembly.record import ActsEntry, EndEntry, PressEntry, StopEntry, StopsRecord
from assembly.report.text.layout import Tone
from assembly.report.text.words import figure, setting, short, signed, unit_sign

SQUARE = 30.0
"""Degrees beyond which a blow is said to come askew (common practice)."""
ASIDE = 1.0
"""mm of wander of the contact that are worth saying."""
MOST_DIGITS = 6
"""Of a figure that another is worked out from."""


def told_figures(result: float, digits: int, rule: Callable[..., float], *values: float) -> list[str]:
    """``values`` with as few digits as give ``result``, rounded to ``digits``, when a reader works ``rule`` out."""
    for more in range(1, MOST_DIGITS):
        if round(rule(*(round(value, more) for value in values)), digits) == round(result, digits):
            break
    return [short(value, more) for value in values]


def told_end(end: EndEntry, record: StopsRecord) -> str:
    """What ends a way, and where."""
    at = setting(end.at, record.drives)
    if end.cause == "pair":
        return f"{end.names[0]} on {end.names[1]} at {at}"
    if end.cause in ("joint", "measure"):
        return f"{end.names[0]} at its limit at {at}"
    return f"it locks at {at}" if end.cause == "loop" else f"nothing touches or reaches its limit as far as {at}"


def stop_figures(stop: StopEntry, acts: ActsEntry, unit: str, record: StopsRecord) -> Iterator[str]:
    """Where a stop acts, its height, what dictates it and what that costs."""
    sign = unit_sign(unit)
    proven = "to make it" if record.verdict == "clear" else "tried: do not make it before all of this holds"
    known = "as given" if stop.stated else proven
    yield f"acts at      {_acts(stop, acts, sign)}"
    yield f"height       {figure(stop.to_make_mm or 0.0)} mm {known}{_recommended(stop)}"
    yield f"set by       {_dictated(stop, acts.dictated_by, sign, record)}"
    yield f"margin       {_to_spare(acts, sign)}"
    if stop.thread is not None:
        thread = stop.thread
        yield (
            f"thread       {short(thread.turns, 1)} turns of {short(thread.pitch_mm)} mm pitch stand out; "
            f"one turn is {short(thread.per_turn)}{sign}, a flat {short(thread.per_turn / 6)}{sign}"
        )
    if stop.ahead_of and stop.order is not None:
        yield f"order        acts {short(stop.order)}{sign} before {stop.ahead_of}, at the least"


def _acts(stop: StopEntry, acts: ActsEntry, sign: str) -> str:
    """One setting, or the first and the last with what makes the difference."""
    reasons = ["as the other drives stand"] if abs(acts.last - acts.first) - 2 * acts.unsure > 0.01 else []
    if acts.unsure >= 0.005:
        reasons.append(f"±{short(acts.unsure)}{sign} as {_met_by(stop)} lies off its facets")
    if not reasons:
        return f"{signed(acts.setting)}{sign}"
    return f"{signed(acts.first)} to {signed(acts.last)}{sign}, {' and '.join(reasons)}"


def _to_spare(acts: ActsEntry, sign: str) -> str:
    """How much farther than to the stop the drive could go; what is lost of the range asked for stands at the top."""
    told = f"{short(max(0.0, acts.given_away))}{sign} from where it acts"
    ends = [way.free.cause for way in acts.ways if way.at == acts.at]
    if ends and ends[0] not in ("pair", "joint", "loop"):
        return f"{told} to as far as was looked, where nothing touches or reaches its limit"
    return f"{told} to what would touch or reach its limit first without it"


def _met_by(stop: StopEntry) -> str:
    """The part that meets the pad or bolt."""
    return stop.striker if stop.carrier == stop.struck else stop.struck


def _recommended(stop: StopEntry) -> str:
    if not stop.stated or stop.recommended_mm is None:
        return ""
    return f" ({figure(stop.recommended_mm)} mm is what its margins ask for)"


def _dictated(stop: StopEntry, end: EndEntry, sign: str, record: StopsRecord) -> str:
    if stop.ahead_of:
        return f"{stop.ahead_of}, which it comes ahead of"
    unsure = 0.0 if stop.acts is None else stop.acts.unsure
    less = [(unsure, f"where {_met_by(stop)} lies off its facets"), (stop.held_back, "so that it can be proven")]
    if end.cause == "range":
        told = f"the range that the file asks for, {setting(end.at, record.drives)}: nothing ends it before"
        return told + _less(less, sign)
    kept = ""
    if end.cause == "pair":
        kept = f" with {short(end.kept)} mm of clearance" if end.kept else ""
        kept += f", {short(end.pace)} mm for each {sign.strip()} more" if end.pace else ""
    elif end.cause == "joint":
        kept = f" less {short(end.kept)} kept"
    taken = [(stop.play, "for play"), (stop.give, "for the pad's deflection"), *less]
    return told_end(end, record) + kept + _less(taken, sign)


def _less(sizes: list[tuple[float, str]], sign: str) -> str:
    """What is taken off, as far as it shows."""
    taken = [f"{short(size)}{sign} {what}" for size, what in sizes if size >= 0.005]
    return f"; less {' and '.join(taken)}" if taken else ""


def blow_figures(stop: StopEntry, unit: str) -> Iterator[tuple[str, Tone]]:
    """How a stop is struck and what it takes."""
    met, press = stop.contact, stop.press
    if met is not None:
        askew = met.unsquare_deg > SQUARE
        wander = f", wanders {short(met.drift_mm, 1)} mm on it with the other drives" if met.drift_mm > ASIDE else ""
        yield (
            f"struck       by {_met_by(stop)} ({met.shape}) at "
            f"{_point(met.on_stop)}, {short(met.unsquare_deg, 1)}° from square{' ASKEW' if askew else ''}{wander}",
            Tone.BAD if askew else Tone.PLAIN,
        )
        per = unit_sign(unit).strip()
        lever = ""
        if met.lever_mm is not None:
            (arm,) = told_figures(met.mm_per_unit, 3, lambda lever: lever * pi / 180, met.lever_mm)
            lever = f"lever {arm} mm, "
        yield f"leverage     {lever}{figure(met.mm_per_unit, 3)} mm for each {per}", Tone.PLAIN
    if press is not None:
        yield from _press(stop)


def _press(stop: StopEntry) -> Iterator[tuple[str, Tone]]:
    press, held = stop.press, stop.held
    if press is None:
        return
    yield f"load         {short(press.force_n, 0)} N{_worked_out(press)}", Tone.PLAIN
    if press.give_mm is not None and press.strain is not None:
        yield _squeezed(press, press.give_mm, press.strain)
    if held is not None:
        bearing = "" if held.bearing_n is None else f", {short(held.bearing_n, 0)} N in the tab's holes"
        yield (
            f"fasteners    take {short(held.shear_n, 0)} N in shear{bearing}{' TOO WEAK' if press.weak else ''}",
            Tone.BAD if press.weak else Tone.PLAIN,
        )
    if press.peak_mpa is not None:
        yield (
            f"pressure     {short(press.peak_mpa, 0)} MPa where they touch; ask what the softer one stands",
            Tone.PLAIN,
        )


def _worked_out(press: PressEntry) -> str:
    """What the force is worked out from."""
    if press.still_n is None:
        return ""
    if press.falls and press.energy_j is not None and press.stiffness_n_per_mm is not None:
        values = press.still_n, press.energy_j, press.stiffness_n_per_mm
        told = told_figures(press.force_n, 0, lambda p, e, k: p + sqrt(p * p + 2000 * e * k), *values)
        names = "P = {} N that it weighs on the stop, E = {} J of its fall and k = {} N/mm of the pad".format(*told)
        return f": P + √(P² + 2000·E·k), {names}"
    factor = "" if press.factor == 1 else f" × {press.factor:g}"
    if press.moment_nm is None or press.arm_mm is None:
        return f": {short(press.still_n)} N{factor}" if factor else ""
    moment, arm = told_figures(
        press.force_n, 0, lambda m, arm: 1e3 * m * press.factor / arm, press.moment_nm, press.arm_mm
    )
    return f": {moment} N·m{factor} / {arm} mm"


def _squeezed(press: PressEntry, give: float, strain: float) -> tuple[str, Tone]:
    more = " FARTHER THAN ITS FIGURES HOLD: take a larger or stiffer pad" if press.strained else ""
    force, worked, thickness = round(press.force_n), "", ""
    if press.stiffness_n_per_mm is not None and press.thickness_mm is not None:
        (stiffness,) = told_figures(give, 2, lambda k: force / k, press.stiffness_n_per_mm)
        worked, thickness = f" ({force} N / {stiffness} N/mm)", f" of {short(press.thickness_mm)} mm"
    share = f"{short(100 * strain, 0)} % of its thickness{thickness}"
    return f"deflection   {figure(give)} mm{worked}, {share}{more}", Tone.BAD if press.strained else Tone.PLAIN


def _point(values: tuple[float, float, float]) -> str:
    return f"[{', '.join(short(value, 1) for value in values)}]"
