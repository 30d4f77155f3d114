"""One try of the fuzz: a machine and a command line by chance, run in a process of its own, and what was wrong with it.

The process is forked from one that has loaded everything, so that a crash, a leak or an endless loop costs one try.
Its folder, temporary folder, home and streams are its own, its memory and processor time are limited.
"""

import io
import json
import os
import random
import re
import resource
import select
import signal
import sys
import tempfile
import traceback
import warnings
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path

import fuzz_commands
import fuzz_files
import fuzz_meshes
import fuzz_oracle
from mesh_writers import obj
from plain_meshes import cube

from assembly.cli import main

MEMORY = 2_000_000_000
"""Bytes that a try may take beyond what is loaded."""
PROCESSOR_S = {"sweep": 30, "page": 90, "nightly": 60, "compare": 60, "range": 120, "stop": 240, "map": 120}
PROCESSOR_S |= dict.fromkeys(("variants", "helps", "propose", "grind"), 60)
"""Seconds of processor time after which a command is told as slow; a sweep has a budget of one."""
QUICK_S = 20
WRITING = ("new", "--out", "--history", "--junit", "--stl", "--csv")
"""What names a place that files go to."""
JUDGING = ("sweep", "helps", "propose", "grind")
"""Commands whose exit status 0 says that the file as it is is clear."""
LINES = 60
"""Lines on stderr that an input may cost: fifty faults are told, the rest is counted."""
_CONTROL = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True)
class Case:
    """What one try runs; the same for the same seed."""

    seed: int
    what: str
    files: dict[str, bytes]
    arguments: tuple[str, ...]
    folder: Path | None = None
    """Where the mesh files of the machine lie."""
    strikes: str = ""
    """Why the machine must not be told clear, where that is known."""


@dataclass
class Outcome:
    """How it ended."""

    case: Case
    status: int
    seconds: float = 0.0
    megabytes: float = 0.0
    out: str = ""
    err: str = ""
    findings: list[str] = field(default_factory=list)


def _line(command: str, *, cheap: bool) -> tuple[str, ...]:
    """The command on the try's machine; a cheap sweep has less time to decide."""
    line = fuzz_commands.plain(command)
    return tuple(line if not cheap or "--time-limit" not in line else [*line, "--time-limit", "0.2"])


def case_of(seed: int, *, cheap: bool = False) -> Case:
    """The try with this number; ``cheap`` keeps to small machines and commands that answer in a moment."""
    chance = random.Random(seed)  # noqa: S311 - nothing secret
    kind = chance.choices(["tree", "text", "mesh", "planted", "line"], [45, 12, 25, 6, 12])[0]
    if kind == "mesh":
        name, data, what = fuzz_meshes.altered_mesh(chance)
        strikes = "its triangles reach into what the block sweeps" if fuzz_oracle.strikes_the_box(name, data) else ""
        machine = (fuzz_meshes.MACHINE % name).encode()
        command = "sweep" if not cheap or chance.random() < 0.3 else "inspect"
        if not cheap and chance.random() < 0.1:
            command = chance.choice(["propose", "grind"])
        return Case(seed, f"mesh: {what}", {"m.toml": machine, name: data}, _line(command, cheap=cheap), None, strikes)
    names = fuzz_files.small_bases() if cheap or chance.random() < 0.93 else tuple(fuzz_files.bases())
    base = chance.choice(names)
    text, folder = fuzz_files.bases()[base]
    if kind == "planted":
        made = fuzz_files.planted(text, chance)
        if made is not None:
            return Case(
                seed,
                f"planted in {base}: {made[1]}",
                {"m.toml": made[0]},
                _line("sweep" if cheap or chance.random() < 0.7 else chance.choice(JUDGING), cheap=cheap),
                folder,
                made[1],
            )
        kind = "tree"
    if kind == "line":
        line = fuzz_commands.altered_line(chance, fuzz_commands.QUICK if cheap else fuzz_commands.COMMANDS)
        files = {"m.toml": text.encode(), "cube.obj": obj(*cube(5))}
        files |= {name: fuzz_commands.altered_list(chance) for name in fuzz_commands.LISTS if name in line}
        return Case(seed, f"command line on {base}", files, tuple(line), folder)
    data, what = (fuzz_files.altered_tree if kind == "tree" else fuzz_files.altered_text)(text, chance)
    small = base in fuzz_files.small_bases()
    shares = {"inspect": 12, "sweep": 0.5 if cheap else 6 * small, "pose": 1, "loads": 1}
    if not cheap:
        shares |= {"export": 1, "map": 0.3 * small, "range": 0.2 * small, "stop": 0.2 * small, "compare": 0.3 * small}
        shares |= dict.fromkeys(LONG, 0.3 * small) | {"rods": 0.3}
    command = chance.choices(list(shares), list(shares.values()))[0]
    files = {"m.toml": data, "cube.obj": obj(*cube(5))}
    return Case(seed, f"{kind} of {base}: {what}", files, _line(command, cheap=cheap), folder)


LONG = ("propose", "grind", "helps", "variants", "measures", "measured", "checks")
"""Commands that are asked of small machines alone."""


@cache
def load_everything() -> None:
    """Load, in the process that is forked, what every command loads when it is first used."""
    with tempfile.TemporaryDirectory() as made, redirect_stdout(io.StringIO()), redirect_stderr(io.StringIO()):
        machine = Path(made) / "m.toml"
        machine.write_bytes((fuzz_meshes.MACHINE % "a.obj").encode())
        (Path(made) / "a.obj").write_bytes(obj(*cube(20, (0, 25, 0))))
        for command in ("inspect", "sweep", "pose", "loads"):
            main(
                [
                    *fuzz_commands.plain(command)[:1],
                    str(machine),
                    *fuzz_commands.plain(command)[2:],
                    *_out(command, made),
                ]
            )
        for file in sorted((fuzz_files.ROOT / "tests/cases").glob("*.toml")):
            if file.stem in fuzz_files.small_bases():
                main(["inspect", str(file)])  # readers of each kind of shape are made when one is first read
        list(fuzz_oracle.nearer_than_told(machine, 0))


def _out(command: str, folder: str) -> list[str]:
    return ["--out", folder] if command in ("sweep", "pose") else []


def attempt(case: Case, *, fresh: bool = False) -> Outcome:
    """Run one try, in a fresh interpreter if asked, and look at everything that it left."""
    load_everything()
    with tempfile.TemporaryDirectory(prefix="fuzz-") as made:
        root = Path(made)
        for name in ("work", "tmp", "home"):
            (root / name).mkdir()
        for path in case.folder.iterdir() if case.folder and case.folder != fuzz_files.ROOT else ():
            if path.suffix in (".stl", ".obj", ".ply", ".3mf") and path.name not in case.files:
                (root / "work" / path.name).symlink_to(path)
        for name, data in case.files.items():
            (root / "work" / name).write_bytes(data)
        before = _listing(root)
        outcome = _run(case, root, fresh=fresh)
        _judge(outcome, root, before)
    return outcome


def _run(case: Case, root: Path, *, fresh: bool) -> Outcome:
    child = os.fork()
    if child == 0:
        _be_the_child(case, root, fresh=fresh)
    limit = PROCESSOR_S.get(case.arguments[0] if case.arguments else "", QUICK_S)
    end, used = _waited(child, 5 * limit + 60)
    out, err = ((root / name).read_text(encoding="utf-8", errors="replace") for name in ("out", "err"))
    signalled = os.WTERMSIG(end) if os.WIFSIGNALED(end) else 0
    grown = (1024 * used.ru_maxrss - int((root / "loaded").read_text(encoding="ascii"))) / 1e6
    outcome = Outcome(case, -signalled or os.WEXITSTATUS(end), used.ru_utime + used.ru_stime, grown, out, err)
    if signalled:
        outcome.findings.append(f"ended by signal {signal.Signals(signalled).name} after {outcome.seconds:.1f} s")
    elif outcome.seconds > limit:
        outcome.findings.append(f"took {outcome.seconds:.1f} s of processor time, more than {limit}")
    return outcome


def _pages(which: str) -> int:
    """Bytes of memory that this process has, or has resident."""
    every = Path("/proc/self/statm").read_text(encoding="ascii").split()
    return int(every[("all", "resident").index(which)]) * resource.getpagesize()


def _waited(child: int, seconds: float) -> tuple[int, resource.struct_rusage]:
    """Wait for ``child``, and end it where it takes longer than ``seconds`` on the clock."""
    watch = os.pidfd_open(child)
    try:
        if not select.select([watch], [], [], seconds)[0]:
            os.kill(child, signal.SIGKILL)
    finally:
        os.close(watch)
    return os.wait4(child, 0)[1:]


def _be_the_child(case: Case, root: Path, *, fresh: bool) -> None:
    """Run the command with the streams, folders and limits of the try; never returns."""
    status = 70
    try:
        for number, name in ((1, "out"), (2, "err")):
            os.dup2(os.open(root / name, os.O_WRONLY | os.O_CREAT, 0o600), number)
        os.chdir(root / "work")
        for name in ("TMPDIR", "HOME", "XDG_DATA_HOME", "XDG_CACHE_HOME"):
            os.environ[name] = str(root / ("tmp" if name == "TMPDIR" else "home"))
        tempfile.tempdir = None
        loaded = _pages("all")
        (root / "loaded").write_text("0" if fresh else str(_pages("resident")), encoding="ascii")
        limit = PROCESSOR_S.get(case.arguments[0] if case.arguments else "", QUICK_S)
        resource.setrlimit(resource.RLIMIT_CPU, (3 * limit, 3 * limit + 5))
        if fresh:
            os.environ["PYTHONPATH"] = str(fuzz_files.ROOT)
            os.execv(sys.executable, [sys.executable, "-m", "assembly", *case.arguments])  # noqa: S606 - its own arguments
        for category in (RuntimeWarning, UserWarning):
            warnings.filterwarnings("always", category=category)  # also what was shown before this process began
        resource.setrlimit(resource.RLIMIT_AS, (loaded + MEMORY, loaded + MEMORY))
        sys.stdout, sys.stderr = (open(k, "w", encoding="utf-8", closefd=False) for k in (1, 2))  # noqa: SIM115 - left open to the end
        status = int(main(case.arguments))
        if status == 0 and case.arguments[:2] == ("sweep", "m.toml"):
            (root / "oracle").write_text(
                "\n".join(fuzz_oracle.nearer_than_told(Path("m.toml"), case.seed)), encoding="utf-8"
            )
        sys.stdout.flush()
        sys.stderr.flush()
    except BaseException:  # told by the parent, which looks for it on stderr
        os.write(2, traceback.format_exc().encode())
        status = 70
    finally:
        os._exit(status)


def _judge(outcome: Outcome, root: Path, before: dict[str, bytes | None]) -> None:
    """Everything that can be seen to be wrong, noted in ``outcome.findings``."""
    case, told = outcome.case, outcome.findings
    if outcome.status not in (0, 1, 2, 3) and outcome.status >= 0:
        told.append(f"exit status {outcome.status}: {outcome.err.strip()[-300:]}")
    if outcome.status in (1, 2, 3) and not (outcome.out + outcome.err).strip():
        told.append(f"exit status {outcome.status} without a word")
    if outcome.status == 2:
        told += _bad_lines(outcome.err)
    for name, text in (("stdout", outcome.out), ("stderr", outcome.err)):
        if found := re.search(r"Traceback|Warning:|^\w*Error: |terminate called|Exception ignored", text, re.MULTILINE):
            told.append(f"{found[0]!r} on {name}: {text[found.start() :][:300]}")
        if found := _CONTROL.search(text):
            told.append(f"a control character {found[0]!r} on {name}")
    if outcome.status == 0 and case.strikes and case.arguments[0] in JUDGING:
        told.append(f"WRONG CLEAR: {case.strikes}")
    oracle = root / "oracle"
    if oracle.exists() and (nearer := oracle.read_text(encoding="utf-8")):
        told.append(f"WRONG CLEAR: {nearer}")
    if outcome.megabytes > MEMORY / 2e6:
        told.append(f"took {outcome.megabytes:.0f} MB of memory")
    told += _left(case, root, before)


def _bad_lines(err: str) -> list[str]:
    lines = err.splitlines()
    bad = [f"{len(lines)} lines on stderr"] if len(lines) > LINES else []
    return bad + [f"a line of {len(line)} characters: {line[:120]}" for line in lines if len(line) > 3000][:1]


def _listing(root: Path) -> dict[str, bytes | None]:
    found: dict[str, bytes | None] = {}
    for path in sorted(root.rglob("*")):
        found[path.relative_to(root).as_posix()] = (
            path.read_bytes() if path.is_file() and not path.is_symlink() else None
        )
    return found


def _left(case: Case, root: Path, before: dict[str, bytes | None]) -> list[str]:
    """Files that the try should not have left or altered, and JSON files that are none."""
    after, wrong = _listing(root), []
    asked = any(word.partition("=")[0] in WRITING for word in case.arguments)
    for name in sorted(set(after) | set(before)):
        own = name.startswith(("work/results", "work/nightly", "home/")) or name in ("out", "err", "oracle", "loaded")
        if name in before and before[name] != after.get(name, b"gone"):
            wrong.append(f"altered {name}")
        elif name not in before and not own and (name.startswith("tmp/") or not asked):
            wrong.append(f"left {name}")
        if name.endswith(".json") and name not in before:
            try:
                json.loads(after[name] or b"", parse_constant=_refuse)
            except ValueError as error:
                wrong.append(f"{name} is no JSON: {error}")
    return wrong


def _refuse(word: str) -> None:
    raise ValueError(word)
