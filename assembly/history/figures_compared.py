"""What sweeps tell besides in two runs, of cables, rods and wheels: each figure that is known to be another."""

from __future__ import annotations

from collections.abc import Iterator

from assembly.history.told_figures import ToldFigure, told_of_cables, told_of_rods, told_of_wheels
from assembly.record import AboutWord, FigureChange, Record

SEEN = {"deg": 0.02, "mm": 0.02, "N": 0.1, "%": 0.1, "turns": 0.005}
"""The smallest change of a figure that is reported, by its unit: bounds are known to a hundredth, found and proven."""
GRAIN = 9
"""Digits after the point by which settings are told apart."""


def changed_figures(before: Record, now: Record) -> Iterator[FigureChange]:
    """Every figure that changed; none of what one of both runs does not tell at all, as one of an older version.

    Of figures over settings, all settings that both runs looked at, where any of them changed.
    """
    if before.cables is not None and now.cables is not None:
        yield from _changed("cables", told_of_cables(before), told_of_cables(now))
    if before.rods_turned is not None and now.rods_turned is not None:
        yield from _changed("rods", told_of_rods(before), told_of_rods(now))
    if before.wheels is not None and now.wheels is not None:
        yield from _changed("wheels", told_of_wheels(before), told_of_wheels(now))


def _changed(about: AboutWord, before: Iterator[ToldFigure], now: Iterator[ToldFigure]) -> Iterator[FigureChange]:
    old, new = ({_key(one): one for one in every} for every in (before, now))
    both = {key: (old.get(key), new.get(key)) for key in dict.fromkeys((*new, *old))}
    changed = {key[:2] for key, (was, is_) in both.items() if _differ(was, is_)}
    for key, (was, is_) in both.items():
        of = is_ or was
        if of is None or key[:2] not in changed or (of.at and (was is None or is_ is None)):
            continue
        values = [one.value if one else None for one in (was, is_)]
        yield FigureChange(about, of.name, of.unit, values[0], values[1], of.rounded, of.at)


def _key(one: ToldFigure) -> tuple[str, str, tuple[tuple[str, float], ...]]:
    return one.name, one.unit, tuple(sorted((name, round(value, GRAIN)) for name, value in one.at.items()))


def _differ(was: ToldFigure | None, is_: ToldFigure | None) -> bool:
    """Whether a figure is known to be another; of a setting that only one run looked at nothing is known."""
    if was is None or is_ is None:
        one = was or is_
        return one is not None and not one.at and one.value is not None
    if was.value is None or is_.value is None:
        return was.value is not is_.value
    return abs(is_.value - was.value) >= SEEN[is_.unit]
