"""The environment in which the repository's own commands run, made once in ``.swingroom/env``.

Any Python from 3.7 on can read this file, so that one that is too old is reported so in one line.
"""

from __future__ import annotations

import hashlib
import importlib.util
import json
import os
import shutil
import subprocess
import sys
from pathlib import Path
from typing import NoReturn

ROOT = Path(__file__).resolve().parent.parent
FOLDER = ROOT / ".swingroom" / "env"
STAMP = FOLDER / "made_from.json"
LOG = ROOT / ".swingroom" / "pip.log"
COMMANDS = FOLDER / ("Scripts" if os.name == "nt" else "bin")
OLDEST_PYTHON = (3, 11)
CANNOT_RUN = 2


def prepare(requirement: str) -> None:
    """Make or complete the environment so that ``requirement`` (``.`` or ``.[dev]``) is installed in it, editable."""
    _check_python()
    digest = _digest()
    try:
        installed = _installed(digest)
        if requirement in installed or (requirement == "." and installed):
            return
        if not installed:
            _make_empty()
        _install(requirement)
        STAMP.write_text(json.dumps({"digest": digest, "installed": [*installed, requirement]}), encoding="utf-8")
    except OSError as error:
        stop(f"{error.filename or FOLDER}: the environment cannot be written ({error.strerror})")


def stop(message: str) -> NoReturn:
    """End the script with one line that says why it cannot run."""
    print(message, file=sys.stderr)
    raise SystemExit(CANNOT_RUN)


def _check_python() -> None:
    if sys.version_info[:2] < OLDEST_PYTHON:
        needed = ".".join(map(str, OLDEST_PYTHON))
        given = ".".join(map(str, sys.version_info[:3]))
        stop(f"Python {needed} or newer is needed; {sys.executable} is Python {given}")
    if any(importlib.util.find_spec(name) is None for name in ("venv", "ensurepip")):
        stop(f"{sys.executable} cannot make environments (ensurepip is missing); apt-get install python3-venv")


def _digest() -> str:
    """Digest of all that makes an old environment useless: what is asked for, by which Python, and where."""
    parts = (ROOT / "pyproject.toml").read_bytes(), sys.version.encode(), str(ROOT).encode()
    return hashlib.sha256(b"\0".join(parts)).hexdigest()


def _installed(digest: str) -> list[str]:
    """What the environment of this digest holds; empty where it must be made anew."""
    try:
        made = json.loads(STAMP.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return []
    return list(made["installed"]) if made["digest"] == digest else []


def _make_empty() -> None:
    shutil.rmtree(FOLDER, ignore_errors=True)
    FOLDER.parent.mkdir(exist_ok=True)
    run = subprocess.run([_python_outside(), "-m", "venv", str(FOLDER)], capture_output=True, text=True, check=False)
    if run.returncode:
        stop(f"no environment could be made in {FOLDER}: {_last_line(run.stderr + run.stdout)}")


def _python_outside() -> str:
    """The Python that makes the environment: where this one lies in it, the one that it was made from, which stays."""
    if FOLDER not in Path(sys.executable).parents:
        return sys.executable
    if os.name == "nt":
        return str(Path(sys.base_prefix, "python.exe"))
    return str(Path(sys.base_prefix, "bin", f"python{sys.version_info[0]}.{sys.version_info[1]}"))


def _install(requirement: str) -> None:
    print(f"Installing {requirement} in {FOLDER.relative_to(ROOT)} (once, some minutes)", flush=True)
    command = [str(COMMANDS / "python"), "-m", "pip", "install", "--no-input", "--disable-pip-version-check"]
    with LOG.open("w", encoding="utf-8") as log:
        run = subprocess.run(
            [*command, "--editable", requirement],
            cwd=ROOT,
            stdin=subprocess.DEVNULL,
            stdout=log,
            stderr=subprocess.STDOUT,
            check=False,
        )
    if run.returncode:
        said = _last_line(LOG.read_text(encoding="utf-8"))
        stop(f"pip could not install {requirement}: {said}; all it said is in {LOG.relative_to(ROOT)}")


def _last_line(text: str) -> str:
    """The last line that pip or venv marks as an error, the plainest mark first; else the last line."""
    lines = [line.strip() for line in text.splitlines() if line.strip()]
    for mark in ("ERROR:", "Error:", "error:", ""):
        marked = [line for line in lines if line.startswith(mark)]
        if marked:
            return marked[-1]
    return "it gave no reason"
