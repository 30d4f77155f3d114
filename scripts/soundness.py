"""Try to break the proof: dense random settings of the demos and of random machines against what the sweep proved.

    python3 scripts/soundness.py [--settings 2000] [--machines 200] [--groups 0] [--seed 0] [--share 1] [--no-demos]
        [--demo NAME] [--close-in] [--weaken KIND] [--tolerances 0] [--figures 0]

``--settings`` are spread over all machines; ``--groups`` more of these are each two or three random machines that stand
in each other's way on one ground. ``--share`` makes the ranges of the random machines shorter: over a quarter of them
most can be assembled everywhere, which is much quicker. Prints a table, one line per machine, then every
violation; exit status 1 where there is one. ``--weaken`` breaks one kind of bound on purpose, which must show.
``--tolerances`` makes so many random machines of each that has tolerances, and holds them against its worst case
instead. ``--figures`` adds measures, cables, wheels and a hose to so many random machines and attacks these instead,
with ``--settings`` each. Needs the environment of ``scripts/test.py``.
"""

from __future__ import annotations

import argparse
import sys
import time
from collections.abc import Iterator
from contextlib import nullcontext
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(REPOSITORY / "tests"))

import figure_attack
import grouped_machines
import hose_attack
import mutations
import proof_attack
import random_machines
import tolerance_attack
import tolerance_machines

from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.lower_bound import Method
from assembly.model.machine import Machine
from assembly.model.reader import machine_from_text, read_machine

COLUMNS = (
    ("machine", "{0.machine:28.28}"),
    ("pairs", "{0.pairs:5}"),
    ("clear", "{0.clear:5}"),
    ("cells", "{0.cells:6}"),
    ("settings", "{0.settings:8}"),
    ("distances", "{0.distances:9}"),
    ("by brute force", "{0.brute:14}"),
    ("out of reach", "{0.out_of_reach:12}"),
    ("given up %", "{1:10.3f}"),
    ("slimmest mm", "{0.slimmest:11.6f}"),
    ("travel used", "{0.fullest:11.3f}"),
)
"""Slimmest: how far the nearest pose stayed above what was proven. Travel used: largest share of any travel bound."""


MOST_BY_BRUTE_FORCE = 5000
"""Triangles of a machine up to which distances are measured again by brute force."""


def main() -> int:
    """Attack every machine; 1 where a claim did not hold."""
    asked = _arguments()
    with mutations.weakened(Method[asked.weaken]) if asked.weaken else nullcontext():
        if asked.figures:
            return _attack_figures(asked)
        return _attack_tolerances(asked) if asked.tolerances else _attack_all(asked)


def _attack_figures(asked: argparse.Namespace) -> int:
    """Random machines with measures, cables, wheels and a hose; 1 where one leaves what was proven."""
    settings = violations = 0
    for seed in range(asked.seed, asked.seed + asked.figures):
        report = figure_attack.attack(seed, asked.settings, asked.share)
        of_hose, more, told = hose_attack.attack(seed, asked.settings, asked.share)
        found = [*report.violations, *of_hose]
        line = f"{report.figures:3} figures  {report.settings + more:6} settings  {report.bounded:7} held in cells"
        print(f"{report.machine:28.28}  {line}  {told:2} parts by the hose  {len(found)} violations", flush=True)
        for violation in found:
            print(f"    {violation}", flush=True)
        settings, violations = settings + report.settings + more, violations + len(found)
    print(f"{settings} settings: " + (f"{violations} violations" if violations else "no violation"))
    return 1 if violations else 0


def _attack_tolerances(asked: argparse.Namespace) -> int:
    """Random machines within their tolerances at random settings; 1 where one comes nearer than its worst case."""
    violations = 0
    for name, machine in _with_tolerances():
        worst = tolerance_attack.swept(machine)
        left = tolerance_attack.attack(machine, worst, asked.tolerances, asked.seed)
        print(f"{name:28.28}  {len(worst.pairs):5} pairs  nearest {left:.6f} mm above its worst case", flush=True)
        violations += left < 0
    print(f"{violations} machines broke their worst case" if violations else "no violation")
    return 1 if violations else 0


def _with_tolerances() -> Iterator[tuple[str, Machine]]:
    texts = {
        "stack": tolerance_machines.stack_text((40, 0.1), [(25, 0.05), (2, 0.03), (10, 0.05)]),
        "arm": tolerance_machines.arm_text(),
        "rod": tolerance_machines.rod_text(0.5, 0.3),
        "seat": tolerance_machines.PEG,
        "four-bar": tolerance_machines.four_bar_text(),
    }
    for name, text in texts.items():
        yield name, tolerance_machines.read(text)
    starter = (REPOSITORY / "assembly" / "starter" / "arm_and_crank.toml").read_text(encoding="utf-8")
    general = starter.replace("[points]", '[tolerances]\ngeneral = "m"\n\n[points]', 1)
    yield "starter, class m", machine_from_text(general, REPOSITORY)


def _attack_all(asked: argparse.Namespace) -> int:
    demos = [] if asked.no_demos else sorted((REPOSITORY / "meshes").glob(f"*/{asked.demo}.toml"))
    each = max(24, asked.settings // max(1, asked.machines + asked.groups + len(demos)))
    effort = Effort(bracket_mm=0.5, bracket_share=0.05, decide_only=not asked.close_in)
    print("  ".join(title for title, _ in COLUMNS) + "  violations  seconds")
    violations = 0
    for seed, machine in _machines(demos, asked):
        start = time.monotonic()
        triangles = sum(len(part.mesh.faces) for part in machine.parts.values())
        report = proof_attack.attack(machine, each, seed, effort, brute=4 if triangles <= MOST_BY_BRUTE_FORCE else 0)
        cells = (shape.format(report, 100 * report.given_up_share) for _, shape in COLUMNS)
        line = "  ".join(text.rjust(len(title)) for text, (title, _) in zip(cells, COLUMNS, strict=True))
        print(f"{line}  {len(report.violations):10}  {time.monotonic() - start:7.1f}", flush=True)
        for violation in report.violations:
            print(f"    {violation}", flush=True)
        violations += len(report.violations)
    print(f"{violations} violations" if violations else "no violation")
    return 1 if violations else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--settings", type=int, default=2000, help="settings to try, spread over all machines")
    parser.add_argument("--machines", type=int, default=200, help="random machines")
    parser.add_argument("--groups", type=int, default=0, help="machines of several independent groups")
    parser.add_argument("--seed", type=int, default=0, help="number of the first random machine")
    parser.add_argument("--share", type=float, default=1.0, help="of the ranges of random machines; above 0, at most 1")
    parser.add_argument("--no-demos", action="store_true", help="random machines only")
    parser.add_argument("--demo", default="*", metavar="NAME", help="this demo only")
    parser.add_argument("--close-in", action="store_true", help="also close in on the nearest pairs (much longer)")
    parser.add_argument("--figures", type=int, default=0, help="random machines with measures, cables and wheels")
    parser.add_argument("--tolerances", type=int, default=0, help="random machines of each that has tolerances")
    kinds = [kind.name for kind in Method if kind is not Method.NOTHING]
    parser.add_argument("--weaken", choices=kinds, help="break this kind of bound on purpose: violations must show")
    return parser.parse_args()


def _machines(demos: list[Path], asked: argparse.Namespace) -> Iterator[tuple[int, Machine]]:
    for path in demos:
        yield asked.seed, read_machine(path)
    for number in range(asked.seed, asked.seed + asked.machines):
        yield number, random_machines.random_machine(number, asked.share)
    for number in range(asked.seed, asked.seed + asked.groups):
        yield number, grouped_machines.grouped_machine(number, asked.share)


if __name__ == "__main__":
    sys.exit(main())
