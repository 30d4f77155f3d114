"""Try to break the program: mechanism files, meshes and command lines altered by chance, each in a process of its own.

    python3 scripts/fuzz.py [--tries 300] [--seed 0] [--only-seed N] [--cheap] [--fresh 50] [--log FILE] [--keep FOLDER]

Try k has the seed ``--seed`` + k; ``--only-seed`` repeats one and shows its files and all that it said. One in
``--fresh`` runs in a fresh interpreter, the others are forked from this one. Looked at: exit status, tracebacks and
warnings, time, memory, files left or altered, and machines told clear that are known not to be. Prints every finding
with its seed; exit status 1 where there is one. Needs the environment of ``scripts/test.py``.
"""

from __future__ import annotations

import argparse
import collections
import os
import sys
import time
from pathlib import Path

os.environ["SWINGROOM_MEMORY"] = "off"
REPOSITORY = Path(__file__).resolve().parent.parent
sys.path[:0] = [str(REPOSITORY), str(REPOSITORY / "tests")]

import fuzz_attack


def main() -> int:
    """Run the tries; 1 where something was found."""
    asked = _arguments()
    if asked.only_seed is not None:
        return _repeat(asked)
    began, found, ends = time.monotonic(), 0, collections.Counter[str]()
    sys.stdout.reconfigure(errors="backslashreplace")  # arguments may be names that are not UTF-8
    told = asked.log.open("a", encoding="utf-8", errors="backslashreplace") if asked.log else sys.stdout
    with told as log:
        for k in range(asked.tries):
            case = fuzz_attack.case_of(asked.seed + k, cheap=asked.cheap)
            outcome = fuzz_attack.attempt(case, fresh=asked.fresh > 0 and k % asked.fresh == asked.fresh - 1)
            ends[f"{case.arguments[0] if case.arguments else 'nothing'} {outcome.status}"] += 1
            found += bool(outcome.findings)
            for finding in outcome.findings:
                print(f"seed {case.seed}: {case.what}; {' '.join(case.arguments)!r}\n  {finding}", file=log, flush=True)
            if (k + 1) % 500 == 0:
                print(f"{k + 1} tries, {found} with findings, {time.monotonic() - began:.0f} s", file=log, flush=True)
        print(
            f"{asked.tries} tries from seed {asked.seed} in {time.monotonic() - began:.0f} s: {found} with findings",
            file=log,
        )
        print(", ".join(f"{end}: {count}" for end, count in sorted(ends.items())), file=log)
    return 1 if found else 0


def _repeat(asked: argparse.Namespace) -> int:
    """One try again, with what it read and said."""
    case = fuzz_attack.case_of(asked.only_seed, cheap=asked.cheap)
    if asked.keep:
        asked.keep.mkdir(parents=True, exist_ok=True)
        for name, data in case.files.items():
            (asked.keep / name).write_bytes(data)
    outcome = fuzz_attack.attempt(case, fresh=asked.fresh == 1)
    print(f"{case.what}\n{list(case.arguments)}")
    for name, data in case.files.items():
        print(f"── {name}\n{data.decode('utf-8', 'backslashreplace')[:6000]}")
    print(f"── stdout\n{outcome.out}── stderr\n{outcome.err}")
    print(f"── exit status {outcome.status}, {outcome.seconds:.2f} s, {outcome.megabytes:.0f} MB")
    for finding in outcome.findings:
        print(f"FOUND {finding}")
    return 1 if outcome.findings else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--tries", type=int, default=300)
    parser.add_argument("--seed", type=int, default=0)
    parser.add_argument("--only-seed", type=int)
    parser.add_argument("--cheap", action="store_true", help="small machines and quick commands, as in the suite")
    parser.add_argument("--fresh", type=int, default=50, metavar="N", help="one in N in a fresh interpreter; 0: none")
    parser.add_argument("--log", type=Path, help="append what is found to this file")
    parser.add_argument("--keep", type=Path, help="with --only-seed: put the files of the try here")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
