"""What the builder's ratings say, as entries of a record, and the verdict on several of them."""

from __future__ import annotations

from collections.abc import Iterable

from assembly.model.load_case import LoadCase
from assembly.model.machine import Machine
from assembly.record import LoadWord, NotToldEntry, RatingEntry
from assembly.statics.ratings import RatingCheck

WORST_FIRST: tuple[LoadWord, ...] = ("exceeded", "open", "within")
ON_FIXED = "on a fixed part, which carries it by itself"


def worst_of(verdicts: Iterable[LoadWord]) -> LoadWord:
    """The worst of ``verdicts``; "not rated" where none judges."""
    found = set(verdicts)
    return next((word for word in WORST_FIRST if word in found), "not rated")


def rating_entry(check: RatingCheck) -> RatingEntry:
    """One rating beside its force."""
    rating = check.rating
    return RatingEntry(rating.of.value, rating.newtons, check.newtons, check.least, check.reserve, check.verdict.value)


def fixed_entries(machine: Machine, case: LoadCase) -> tuple[NotToldEntry, ...]:
    """Loads that no joint feels."""
    return tuple(NotToldEntry(part, ON_FIXED) for part in case.parts if machine.parts[part].fixed)
