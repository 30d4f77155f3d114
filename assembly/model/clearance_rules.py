"""Clearance rules, and what must hold for the machine as a whole."""

from __future__ import annotations

from collections.abc import Mapping

from assembly.model.fault_list import listed, shown
from assembly.model.file_tables import ClearanceTable, PairRuleTable
from assembly.model.machine import ClearanceRules, Pair
from assembly.model.positions import Place
from assembly.model.reading import Bench
from assembly.model.schema import checked_table

_SECTION = "clearance"


def read_clearance(raw: object, bench: Bench) -> ClearanceRules:
    """The rules of the file with those of the other side; faults are noted."""
    table = checked_table(ClearanceTable, raw, (_SECTION,), bench.log, ClearanceTable.keys())
    if table is None:
        return ClearanceRules()
    required = bench.figures.amount(table.required, (_SECTION, "required"))
    parts: dict[str, float] = {}
    for name, given in table.parts.items():
        bench.log.knows(name, bench.part_names, "part", (_SECTION, "parts", name))
        parts[name] = bench.figures.amount(given, (_SECTION, "parts", name))
    rules: dict[Pair, float | str] = {}
    for number, entry in enumerate(table.pairs):
        _read_pair(entry, (_SECTION, "pairs", number), rules, bench)
    every = _with_twins(rules, bench)
    return ClearanceRules(
        required=required,
        parts={**parts, **bench.mirror.twins(parts, lambda _name, value: value)},
        pairs={pair: rule for pair, rule in every.items() if not isinstance(rule, str)},
        ignored={pair: rule for pair, rule in every.items() if isinstance(rule, str)},
    )


def _read_pair(raw: object, place: Place, rules: dict[Pair, float | str], bench: Bench) -> None:
    table = checked_table(PairRuleTable, raw, place, bench.log)
    if table is None:
        return
    log, (a, b) = bench.log, table.between
    for number, name in enumerate((a, b)):
        log.knows(name, bench.part_names, "part", (*place, "between", number))
    pair = frozenset((a, b))
    if a == b:
        log.add((*place, "between"), f"{shown(a)} is paired with itself", "name two different parts")
    elif pair in rules:
        log.add((*place, "between"), f"{shown(a)} and {shown(b)} have a rule already", "keep one of the two")
    if table.required is not None and table.ignore is not None:
        log.add(place, "`required` and `ignore` stand together", "keep one of them")
    elif table.required is not None:
        rules.setdefault(pair, bench.figures.amount(table.required, (*place, "required")))
    elif table.ignore is None:
        log.add(place, "the pair has no rule", "give `required` in mm, or `ignore` with the reason as text")
    elif not table.ignore.strip():
        log.add((*place, "ignore"), "the reason is empty", "say why this pair need not be checked")
    else:
        rules.setdefault(pair, table.ignore.strip())


def _with_twins(rules: Mapping[Pair, float | str], bench: Bench) -> dict[Pair, float | str]:
    """``rules`` and those of the pairs across the machine, where both parts are there."""
    every = dict(rules)
    for pair, rule in rules.items():
        across = frozenset(map(bench.mirror.other_side, pair))
        if any(map(bench.mirror.has_twin, pair)) and across <= bench.part_names.keys():
            every.setdefault(across, rule)
    return every


def check_held(fixed: set[str], bench: Bench) -> None:
    """Note every part that no chain of joints ties to a fixed part, and the lack of any fixed part."""
    if not fixed:
        bench.log.add(("parts",), "no part is fixed", "give the frame `fixed = true`")
        return
    neighbours: dict[str, set[str]] = {name: set() for name in bench.part_names}
    for tie in bench.ties.values():
        if tie is not None:
            neighbours[tie.first].add(tie.second)
            neighbours[tie.second].add(tie.first)
    held, pending = set(fixed), list(fixed)
    while pending:
        reached = neighbours[pending.pop()] - held
        held |= reached
        pending += reached
    for name in bench.part_names:
        if name not in held:
            hint = f"join it to one of {listed(sorted(held))}, or give it `fixed = true`"
            bench.log.add(("parts", name), "no chain of joints ties this part to a fixed part", hint)
