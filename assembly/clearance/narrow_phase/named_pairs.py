"""Pairs of parts that the builder names: whether there are such, and why not."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from assembly.clearance.narrow_phase.checked_pairs import Pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import Fault
from assembly.model.fault_list import nearest, shown
from assembly.model.machine import Part


def unknown_parts(parts: Mapping[str, Part], names: Iterable[str]) -> Iterator[Fault]:
    """A fault for each name that no part has."""
    for name in dict.fromkeys(names):
        if name not in parts:
            yield Fault(f"there is no part {shown(name)}", hint=nearest(name, parts, "parts"))


def pair_faults(pairs: Pairs, names: tuple[str, str]) -> Iterator[Fault]:
    """What is wrong with two parts, that there are, as a pair: they are one, or not checked against each other."""
    if len(set(names)) == 1:
        yield Fault(f"{shown(names[0])} is named twice", hint="name two different parts")
    for left_out in pairs.not_checked:
        if {left_out.a, left_out.b} == set(names):
            message = f"{shown(left_out.a)} and {shown(left_out.b)} are not checked against each other"
            yield Fault(message, hint=left_out.reason)


def effort_faults(parts: Mapping[str, Part], pairs: Pairs, effort: Effort) -> list[Fault]:
    """What is wrong with the pairs and parts that an effort asks for."""
    unknown = [*unknown_parts(parts, (*(name for both in effort.pairs for name in both), *effort.parts))]
    if unknown:
        return unknown
    alone = [part for part in effort.parts if not any(part in (pair.a, pair.b) for pair in pairs.checked)]
    return [
        *(fault for both in effort.pairs for fault in pair_faults(pairs, both)),
        *(Fault(f"no pair of {shown(part)} is checked", hint="sweep without it says why") for part in alone),
    ]
