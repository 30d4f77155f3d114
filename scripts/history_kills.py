"""Kill a writer of the history at random moments, many times, and look at what is left.

    python3 scripts/history_kills.py [--tries 500] [--seed 0] [--fresh-every 5]

A new history is begun every so many tries, so that making one is hit too. Prints each violation; exit status 1 where
there is one. Needs the environment of ``scripts/test.py``.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

REPOSITORY = Path(__file__).resolve().parent.parent
sys.path.insert(0, str(REPOSITORY / "tests"))

import history_attack


def main() -> int:
    """Try as often as asked; 1 where a run was lost or half there."""
    asked = _arguments()
    wrong = said = beyond = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(asked.tries):
            path = Path(folder) / f"{number // asked.fresh_every}.sqlite3"
            killed = history_attack.kill_once(path, asked.seed + number)
            said += killed.said
            beyond += killed.there - killed.said
            wrong += bool(killed.wrong)
            for text in killed.wrong:
                print(f"try {number}: {text}", flush=True)
    print(f"{asked.tries} kills, {said} runs said to be saved, {beyond} saved unsaid, {wrong} violations")
    return 1 if wrong else 0


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--tries", type=int, default=500, help="how often to kill")
    parser.add_argument("--seed", type=int, default=0, help="seed of the first try")
    parser.add_argument("--fresh-every", type=int, default=5, help="tries with one history")
    return parser.parse_args()


if __name__ == "__main__":
    sys.exit(main())
