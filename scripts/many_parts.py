"""Measure memory and processor time against the number of parts; prints a table, or JSON with ``--json``.

    python3 scripts/many_parts.py [--kind arms] [--sizes 25 50 100 200] [--inspect 400 2000] [--memory 1GB]

The machines are those of ``tests/many_parts.py``. Every figure is of a process of its own on one core, the start of the
program included. Needs the environment of ``scripts/test.py``.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

TESTS = Path(__file__).resolve().parent.parent / "tests"


def main() -> None:
    """Run what was asked for and print it."""
    asked = _arguments()
    with tempfile.TemporaryDirectory() as folder:
        rows = [_measured("inspect", size, asked, Path(folder)) for size in asked.inspect]
        rows += [_measured("sweep", size, asked, Path(folder)) for size in asked.sizes]
    if asked.json:
        print(json.dumps(rows, indent=2))
        return
    print("| command | parts | peak memory | processor time | time |\n|---|---|---|---|---|")
    for row in rows:
        print("| {command} | {parts} | {peak_mb} MB | {processor_s} s | {s} s |".format_map(row))


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=(__doc__ or "").split("\n", maxsplit=1)[0])
    parser.add_argument("--kind", choices=("arms", "cranks", "driven_cranks"), default="arms", help="which machine")
    parser.add_argument("--sizes", type=int, nargs="*", default=[25, 50, 100, 200], help="moving parts to sweep")
    parser.add_argument("--inspect", type=int, nargs="*", default=[400, 2000], help="moving parts to list")
    parser.add_argument("--memory", help="handed to the sweeps")
    parser.add_argument("--json", action="store_true")
    return parser.parse_args()


def _text(kind: str, parts: int) -> str:
    """A mechanism file of about so many moving parts; a crank with its rod and block has three."""
    sys.path.insert(0, str(TESTS))
    import many_parts  # type: ignore[import-not-found]  # a module of the tests, which are not typed

    if kind == "arms":
        return str(many_parts.arms(parts))
    return str(many_parts.cranks(max(1, parts // 3), drives=kind == "driven_cranks"))


def _measured(command: str, parts: int, asked: argparse.Namespace, folder: Path) -> dict[str, Any]:
    file = folder / f"{command}_{parts}.toml"
    file.write_text(_text(asked.kind, parts), encoding="utf-8")
    words = [sys.executable, "-m", "assembly", command, str(file)]
    if command == "sweep":
        words += ["--cores", "1", "--no-picture", "--recompute", "--out", str(folder / "out")]
        words += ["--memory", asked.memory] if asked.memory else []
    start = time.perf_counter()
    process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    _, status, used = os.wait4(process.pid, 0)
    process.returncode = os.waitstatus_to_exitcode(status)
    return {
        "command": command,
        "parts": parts,
        "status": process.returncode,
        "peak_mb": round(used.ru_maxrss * 1024 / 1e6),
        "processor_s": round(used.ru_utime + used.ru_stime, 1),
        "s": round(time.perf_counter() - start, 1),
    }


if __name__ == "__main__":
    main()
