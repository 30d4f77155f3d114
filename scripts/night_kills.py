"""Kill nightlies at random moments, and at every step of writing, and look whether anything is lost or half there.

    python3 scripts/night_kills.py [--tries 200] [--seed 0]

Prints a line for each try; exit status 1 with a traceback at the first thing that does not hold. Needs the
environment of ``scripts/test.py``, and a system that can fork.
"""

from __future__ import annotations

import argparse
import signal
import sys
import tempfile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

import night_attack


def main() -> int:
    """Kill, look, and run again; 0 where everything held."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--tries", type=int, default=200, help="nights to kill at random moments")
    parser.add_argument("--seed", type=int, default=0)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="swingroom-nights-") as folder:
        killed = night_attack.attack(Path(folder) / "random", asked.tries, asked.seed, _tell)
        steps = _every_step(Path(folder) / "steps")
    print(f"{asked.tries} nights, {killed} killed before their end, and one at each of {steps} steps: all held")
    return 0


def _every_step(folder: Path) -> int:
    night_attack.shop(folder)
    night_attack.load_the_program()
    night_attack.night(folder)
    step = 1
    while night_attack.killed_at(folder, step) == -signal.SIGKILL:
        night_attack.runs_in(folder)
        night_attack.check_files(folder)
        _tell(f"killed at step {step} of writing")
        step += 1
    return step - 1


def _tell(text: str) -> None:
    print(text, flush=True)


if __name__ == "__main__":
    sys.exit(main())
