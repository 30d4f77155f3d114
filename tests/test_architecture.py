"""The floors of the house: imports run downhill, one door per library, and only the command line speaks.

The rules are read off the syntax trees of the sources, and a small made-up house breaks each of them once.
"""

import ast
import graphlib
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest
from sources import Module, modules

ROOT = Path(__file__).resolve().parent.parent
HOUSE = "assembly"

FLOORS = {
    "errors": 0,
    "folders": 0.5,
    "progress": 0.5,
    "database": 0.5,
    "printable": 0.5,
    "temporary": 0.5,
    "program": 0.5,
    "parallel": 0.7,
    "working_memory": 0.5,
    "time_limit": 0.5,
    "geometry": 1,
    "record": 1.5,
    "model": 2,
    "strength": 3,
    "kinematics": 3,
    "statics": 3.5,
    "clearance": 4,
    "studies": 5,
    "history": 7,
    "cache": 7,
    "report": 7,
    "arguments": 7,
    "api": 8,
    "commands": 9,
    "cli": 10,
    "__main__": 11,
}
FACADE = 9
"""The package itself gives the names of the API."""
STOREYS = {
    "clearance": {
        "narrow_phase": 0,
        "proof": 1,
        "region": 2,
        "cures": 2,
        "sensitivity": 2,
        "tolerances": 2,
        "removal": 2,
        "stops": 3,
    },
    "report": {"text": 0, "render": 1, "charts": 2, "export": 2, "page": 2},
}
"""Folders that have floors of their own: what each of their folders may import of the others lies below it."""
SHARED = "shared"
"""What all studies may import of ``studies/``."""
VIEWS = ("history", "report")
KNOWN_TO_VIEWS = (
    "assembly.folders",
    "assembly.progress",
    "assembly.database",
    "assembly.errors",
    "assembly.printable",
    "assembly.temporary",
    "assembly.time_limit",
    "assembly.record",
    "assembly.geometry.mesh",
    "assembly.geometry.moving_parts",
    "assembly.geometry.rotations",
    "assembly.geometry.scene",
)
"""Modules, each with those in its folder where it has one."""

KNOWN_TO_COMMANDS = (
    "assembly.api",
    "assembly.arguments",
    "assembly.commands",
    "assembly.errors",
    "assembly.printable",
    "assembly.working_memory",
    "assembly.progress",
    "assembly.record",
    "assembly.report",
    "assembly.time_limit",
)
"""A command is arguments, one question to the API, one report, one status: it asks nobody below the API."""

EVERYWHERE = {"numpy", "scipy"}
DOORS = {
    "av": ("report/render/picture_files.py",),
    "click": ("arguments.py", "cli.py", "commands/", "report/text/terminal.py"),
    "distributed": ("parallel/cluster.py",),
    "fcl": ("clearance/narrow_phase/distance.py",),
    "filelock": ("api/nights/nightly_run.py",),
    "jinja2": ("report/page/html.py",),
    "lxml": ("geometry/threemf.py",),
    "manifold3d": ("geometry/",),
    "mapbox_earcut": ("geometry/",),
    "markupsafe": ("report/page/html.py",),
    "matplotlib": ("report/charts/",),
    "multiprocessing": ("parallel/",),
    "networkx": ("kinematics/",),
    "PIL": ("report/render/", "report/charts/"),
    "platformdirs": ("folders.py",),
    "pydantic": ("model/", "record/jsonform.py", "record/values.py"),
    "pydantic_core": ("geometry/mesh.py", "model/", "record/jsonform.py"),
    "pygltflib": ("report/export/glb.py",),
    "pyvista": ("report/render/",),
    "rich": ("cli.py", "report/text/terminal.py"),
    "shapely": ("geometry/",),
    "sqlite3": ("database.py", "history/", "cache/"),
    "tomli": ("model/",),
    "tomllib": ("model/",),
    "tree_sitter": ("model/",),
    "tree_sitter_toml": ("model/",),
    "trimesh": ("geometry/",),
    "vtk": ("report/render/",),
    "vtkmodules": ("report/render/",),
}

SPEAKS = {"print", "input", "breakpoint", "click.echo", "click.secho", "rich.print", "rich.get_console"} | {
    f"sys.{name}" for name in ("stdin", "stdout", "stderr", "__stdin__", "__stdout__", "__stderr__", "argv")
}
LEAVES = {"exit", "quit", "SystemExit", "sys.exit", "os._exit", "os.abort"}
NEEDS_STREAM = {
    "rich.console.Console": "file",
    "rich.live.Live": "console",
    "rich.progress.Progress": "console",
    "rich.progress.track": "console",
    "rich.status.Status": "console",
}


def violations(root: Path) -> list[str]:
    """Every broken rule as ``path:line: what``; says so too where there is nothing to check."""
    found = modules(root / HOUSE)
    if not any(module.imports for module in found):
        return [f"nothing to check in {root / HOUSE}"]
    told = [
        f"{module.path}:{line}: {what}"
        for module in found
        for rule in (downhill, downstairs, own_business, records_only, thin, doors, silence)
        for line, what in rule(module)
    ]
    return told + list(cycles(found))


def downhill(module: Module) -> Iterator[tuple[int, str]]:
    """Imports come from lower floors or the module's own folder."""
    own = FACADE if module.name == HOUSE else FLOORS.get(module.folder)
    if own is None:
        yield 1, "stands on no floor"
        return
    for line, name in module.imports:
        top, *rest = name.split(".")
        if top == HOUSE and rest and not (rest[0] == module.folder and "/" in module.path):
            floor = FLOORS.get(rest[0])
            if floor is None or floor >= own:
                yield line, f"imports {name}, which is not on a lower floor"


def downstairs(module: Module) -> Iterator[tuple[int, str]]:
    """In a folder that has floors of its own imports run downhill too, and every module of it stands on one."""
    storeys = STOREYS.get(module.folder)
    here = module.path.split("/")[1].removesuffix(".py") if storeys else "__init__"
    if storeys is None or here == "__init__":
        return
    if here not in storeys:
        yield 1, f"stands on no floor of {module.folder}"
        return
    for line, name in module.imports:
        if name.startswith(f"{HOUSE}.{module.folder}."):
            there = name.split(".")[2]
            if there != here and storeys.get(there, storeys[here]) >= storeys[here]:
                yield line, f"imports {name}, which is not on a lower floor"


def own_business(module: Module) -> Iterator[tuple[int, str]]:
    """Studies, each a file or a folder, never import each other; what they share knows none of them."""
    if module.folder == "studies" and not module.path.endswith("studies/__init__.py"):
        _, own, *_ = module.path.removesuffix(".py").split("/")
        for line, name in module.imports:
            *_, other = name.split(".")[:3]
            if name.startswith(f"{HOUSE}.studies") and (other != SHARED or own == SHARED) and other != own:
                yield line, f"a study imports another: {name}"


def records_only(module: Module) -> Iterator[tuple[int, str]]:
    """History and report know the record, plain shapes and errors, and compute nothing."""
    if module.folder in VIEWS:
        for line, name in module.imports:
            known = (f"{HOUSE}.{module.folder}", *KNOWN_TO_VIEWS)
            if name.split(".")[0] == HOUSE and not any(f"{name}.".startswith(f"{one}.") for one in known):
                yield line, f"a view of the record imports {name}"


def thin(module: Module) -> Iterator[tuple[int, str]]:
    """A command knows the API and what shows its answers, none of what is behind it."""
    if module.folder == "commands":
        for line, name in module.imports:
            known = name == HOUSE or any(f"{name}.".startswith(f"{k}.") for k in KNOWN_TO_COMMANDS)
            if name.split(".")[0] == HOUSE and not known:
                yield line, f"a command goes past the API: {name}"


def doors(module: Module) -> Iterator[tuple[int, str]]:
    """Each library is imported at its door only, and a library without a door nowhere."""
    for line, name in module.imports:
        library = name.split(".")[0]
        if library in EVERYWHERE or library == HOUSE or (library in sys.stdlib_module_names and library not in DOORS):
            continue
        if not any(
            module.path == door or (door.endswith("/") and module.path.startswith(door))
            for door in DOORS.get(library, ())
        ):
            yield line, f"imports {library} away from its door"


def silence(module: Module) -> Iterator[tuple[int, str]]:
    """Only the command line prints, reads arguments or exits; a terminal writes to the stream it is given."""
    if module.path == "cli.py" or module.folder == "commands":
        return
    for node in ast.walk(module.tree):
        if isinstance(node, ast.Name | ast.Attribute):
            name = module.full_name(node)
            if name in SPEAKS or (name in LEAVES and module.path != "__main__.py"):
                yield node.lineno, f"uses {name}, which is the command line's"
        elif isinstance(node, ast.Call):
            needed = NEEDS_STREAM.get(module.full_name(node.func))
            if needed and needed not in {keyword.arg for keyword in node.keywords}:
                yield node.lineno, f"opens the terminal by itself: {needed}= is missing"


def cycles(found: list[Module]) -> Iterator[str]:
    """One ring of imports, if there is any."""
    graph = {module.name: {name for _, name in module.imports if name in module.house} for module in found}
    try:
        graphlib.TopologicalSorter(graph).prepare()
    except graphlib.CycleError as error:
        yield f"imports run in a ring: {' -> '.join(reversed(error.args[1]))}"


def test_the_house_keeps_its_floors():
    assert violations(ROOT) == []


CLEAN = {
    "__init__.py": "",
    "__main__.py": "import sys\nfrom assembly.cli import main\nsys.exit(main())\n",
    "errors.py": "class Fault(Exception): ...\n",
    "geometry/__init__.py": "",
    "geometry/mesh.py": "import numpy as np\nimport trimesh\n",
    "geometry/scene.py": "from assembly.geometry.mesh import Mesh\n",
    "model/machine.py": "from assembly.geometry import mesh\nfrom ..errors import Fault\n",
    "clearance/narrow_phase/distance.py": "import fcl\nfrom assembly.model.machine import Machine\n",
    "studies/check.py": (
        "from assembly.clearance.narrow_phase import distance\nfrom assembly.record.record_files import load\n"
    ),
    "studies/shared.py": "from assembly.model.machine import Machine\n",
    "studies/stops/design.py": "from assembly.studies.shared import words\nfrom assembly.studies.stops import fit\n",
    "studies/stops/fit.py": "x = 1\n",
    "studies/limits.py": "from assembly.model.machine import Machine\n",
    "record/record_files.py": "import json\nfrom assembly.errors import Fault\n",
    "history/runs.py": "import sqlite3\nfrom assembly.record.record_files import load\n",
    "report/page.py": "from assembly.geometry.scene import Scene\nfrom assembly.report.text.terminal import show\n",
    "report/text/terminal.py": "from rich.console import Console\ndef show(stream): Console(file=stream).print('x')\n",
    "api/questions.py": "from assembly.studies.check import check\n",
    "commands/pose.py": "import click\nfrom assembly.api.questions import x\nfrom assembly.report.page import page\n",
    "cli.py": "import sys\nimport click\nfrom assembly.report.page import page\nprint(sys.argv)\nsys.exit(0)\n",
}

BROKEN = [
    ("uphill", "geometry/mesh.py", "from assembly.model.machine import Machine", "not on a lower floor"),
    ("uphill inside a function", "errors.py", "def f():\n    import assembly.record", "not on a lower floor"),
    (
        "uphill by a relative import",
        "model/machine.py",
        "from ..clearance.narrow_phase import distance",
        "not on a lower floor",
    ),
    (
        "uphill by name",
        "model/machine.py",
        "import importlib\nimportlib.import_module('assembly.studies')",
        "not on a lower",
    ),
    ("across one floor", "history/runs.py", "from assembly.report.page import page", "not on a lower floor"),
    ("uphill in a folder", "report/text/terminal.py", "from assembly.report import page", "not on a lower floor"),
    ("no floor in a folder", "report/loose.py", "x = 1", "stands on no floor of report"),
    ("no floor", "attic.py", "x = 1", "stands on no floor"),
    ("import of what has no floor", "cli.py", "import assembly.attic", "not on a lower floor"),
    ("study imports study", "studies/check.py", "from assembly.studies import limits", "a study imports another"),
    ("study imports a part of another", "studies/check.py", "from assembly.studies.stops import fit", "another"),
    ("what is shared knows a study", "studies/shared.py", "from assembly.studies.check import x", "another"),
    (
        "the record knows a study",
        "record/record_files.py",
        "from assembly.studies.check import x",
        "not on a lower floor",
    ),
    ("report computes", "report/page.py", "from assembly.studies.check import check", "a view of the record"),
    ("name that only starts alike", "history/runs.py", "from assembly.records import load", "a view of the record"),
    ("history computes", "history/runs.py", "from assembly.model.machine import Machine", "a view of the record"),
    ("command computes", "commands/pose.py", "from assembly.studies.look import look", "goes past the API"),
    (
        "command reads a file inside a function",
        "commands/pose.py",
        "def f():\n    from assembly.model.reader import read_machine",
        "goes past the API",
    ),
    ("command opens the history", "commands/pose.py", "from assembly.history import runs", "goes past the API"),
    ("ring", "geometry/mesh.py", "from assembly.geometry import scene", "in a ring"),
    ("second door", "clearance/narrow_phase/overlap.py", "import fcl", "away from its door"),
    (
        "second door inside a function",
        "studies/check.py",
        "def f():\n    from trimesh import repair",
        "away from its door",
    ),
    ("library without a door", "geometry/mesh.py", "import requests", "away from its door"),
    ("standard library with a door", "record/record_files.py", "import sqlite3", "away from its door"),
    ("prints", "studies/check.py", "print('x')", "uses print"),
    ("writes to the terminal", "record/record_files.py", "import sys as s\ns.stdout.write('x')", "uses sys.stdout"),
    ("reads arguments", "model/machine.py", "from sys import argv as given\nuse(given)", "uses sys.argv"),
    ("exits", "record/record_files.py", "raise SystemExit(1)", "uses SystemExit"),
    ("prints beside the command line", "__main__.py", "print('x')", "uses print"),
    ("echoes", "report/text/terminal.py", "import click\nclick.echo('x')", "uses click.echo"),
    (
        "terminal without a stream",
        "report/text/terminal.py",
        "from rich.console import Console\nConsole()",
        "file= is missing",
    ),
]


def build(root: Path, files: dict[str, str]) -> Path:
    for path, text in files.items():
        target = root / HOUSE / path
        target.parent.mkdir(parents=True, exist_ok=True)
        target.write_text(text, encoding="utf-8")
    return root


def test_a_clean_house_passes(tmp_path):
    assert violations(build(tmp_path, CLEAN)) == []


@pytest.mark.parametrize(("path", "code", "told"), [pytest.param(*rest, id=name) for name, *rest in BROKEN])
def test_each_broken_rule_is_told(tmp_path, path, code, told):
    given = violations(build(tmp_path, CLEAN | {path: CLEAN.get(path, "") + code + "\n"}))
    assert any(told in line for line in given), given
    assert all(line.startswith((f"{path}:", "imports run in a ring")) for line in given)


@pytest.mark.parametrize("files", [{}, {"__init__.py": "", "errors.py": "x = 1\n"}])
def test_nothing_to_check_is_a_failure(tmp_path, files):
    assert "nothing to check" in violations(build(tmp_path, files))[0]
