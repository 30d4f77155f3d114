"""The parcel trike swept over its whole range, on a machine with nothing but Python; leaves a record and pictures."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import environment

MECHANISM = "meshes/parcel_trike/parcel_trike.toml"
RESULTS = "results/parcel_trike"
KINDS = {".json": "record", ".png": "picture"}


def main() -> int:
    """Run the sweep, say where its results lie and give the sweep's own exit status."""
    environment.prepare(".")
    arguments = ("sweep", MECHANISM, "--out", RESULTS)
    folder = environment.ROOT / RESULTS
    before = _written(folder)
    print("── swingroom", *arguments, flush=True)
    command = str(environment.COMMANDS / "swingroom")
    status = subprocess.run([command, *arguments], cwd=environment.ROOT, check=False).returncode
    new = [path for path, time in _written(folder).items() if before.get(path) != time]
    for path in sorted(new):
        print(f"{KINDS[path.suffix]:8} {path.relative_to(environment.ROOT)}")
    if not new:
        print(f"nothing was written in {RESULTS}; the lines above say why", file=sys.stderr)
    return status


def _written(folder: Path) -> dict[Path, int]:
    """Records and pictures in ``folder``, each with its time of writing, which tells new ones from old."""
    return {path: path.stat().st_mtime_ns for path in folder.rglob("*") if path.suffix in KINDS}


if __name__ == "__main__":
    sys.exit(main())
