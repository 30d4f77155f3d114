"""What holds for the repository as a whole: what lies where, how long things are, and what no file may say."""

import ast
import io
import json
import re
import subprocess
import sys
import tokenize
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest
from sources import modules, tree_of

ROOT = Path(__file__).resolve().parent.parent
SOURCES = ("assembly", "scripts", "tests")
TOP_LEVEL = {"README.md", "DEVELOPERS.md", "pyproject.toml", "assembly", "meshes", "tests", "scripts"}
GIVEN = {"numpy", "trimesh", "scipy", "python-fcl", "pyvista", "pytest"}
"""Libraries that the task names itself; every other one needs its reason beside it."""

COMES_WITH = {"markupsafe": "jinja2", "pydantic_core": "pydantic", "vtk": "pyvista", "vtkmodules": "pyvista"}
"""Libraries that another one brings along in the version that it needs."""

FUNCTION_LINES = 40
MODULE_LINES = {"assembly": 300, "scripts": 330, "tests": 450}
"""Tables of cases make tests longer than code may be."""

MACHINE_PATHS = tuple(f"/{folder}/" for folder in ("work", "root", "home"))
REGISTRIES = tuple(
    ".".join(parts)
    for parts in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("deb", "debian", "org"),
        ("security", "debian", "org"),
        ("conda", "anaconda", "org"),
        ("crates", "io"),
        ("proxy", "golang", "org"),
    )
)


def repository_files() -> list[Path]:
    """Files that are committed or would be, from git; skips where the sources lie outside a repository."""
    listing = ("ls-files", "-z", "--cached", "--others", "--exclude-standard")
    try:
        run = subprocess.run(["git", "-c", "safe.directory=*", *listing], cwd=ROOT, capture_output=True, text=True)
    except FileNotFoundError:
        pytest.skip("git is not installed")
    if run.returncode and "not a git repository" in run.stderr:
        pytest.skip("the sources lie outside a git repository")
    assert run.returncode == 0, run.stderr
    paths = [ROOT / name for name in run.stdout.split("\0") if name]
    return [path for path in paths if path.is_file()]


def python_files() -> list[Path]:
    return [path for folder in SOURCES for path in sorted((ROOT / folder).rglob("*.py"))]


def shown(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def code_lines(source: str) -> set[int]:
    """Numbers of the lines that hold code: no blank lines, no comments, no docstrings."""
    skipped = {tokenize.COMMENT, tokenize.NL, tokenize.NEWLINE, tokenize.INDENT, tokenize.DEDENT, tokenize.ENDMARKER}
    lines: set[int] = set()
    for token in tokenize.generate_tokens(io.StringIO(source).readline):
        if token.type not in skipped:
            lines.update(range(token.start[0], token.end[0] + 1))
    for node in ast.walk(tree_of(source)):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant) and isinstance(node.value.value, str):
            lines.difference_update(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return lines


def long_functions(source: str) -> list[str]:
    functions = (node for node in ast.walk(tree_of(source)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))
    spans = {node: range(node.lineno, (node.end_lineno or node.lineno) + 1) for node in functions}
    long = {node: span for node, span in spans.items() if len(span) > FUNCTION_LINES}
    lines = code_lines(source) if long else set()
    counts = {node: len(lines & set(span)) for node, span in long.items()}
    return [f"{node.lineno}: {node.name} has {n} code lines" for node, n in counts.items() if n > FUNCTION_LINES]


def signed_zeros(source: str) -> list[str]:
    """Formats with a fixed count of digits that may print -0, because they lack Python's ``z``; with their lines."""
    formats = [node for node in ast.walk(tree_of(source)) if isinstance(node, ast.FormattedValue)]
    told = []
    for node in formats:
        pieces = node.format_spec.values if isinstance(node.format_spec, ast.JoinedStr) else []
        fixed = "".join(str(piece.value) for piece in pieces if isinstance(piece, ast.Constant))
        if fixed.endswith("f") and "z" not in fixed:
            told.append(f"{node.lineno}: {fixed}")
    return told


def forbidden_words(content: bytes) -> list[str]:
    return [word for word in (*MACHINE_PATHS, *REGISTRIES) if word.encode() in content]


def dependencies_without_reason(pyproject: str) -> list[str]:
    project = tomllib.loads(pyproject)["project"]
    asked = [*project["dependencies"], *(one for extra in project["optional-dependencies"].values() for one in extra)]
    assert asked
    return [
        requirement
        for requirement in asked
        if re.split(r"[^\w.-]", requirement)[0] not in GIVEN
        and not re.search(rf'"{re.escape(requirement)}",?[ \t]*#[ \t]*\S', pyproject)
    ]


def test_only_what_belongs_there_lies_at_the_top():
    top = {path.relative_to(ROOT).parts[0] for path in repository_files()}
    assert {name for name in top if not name.startswith(".")} - TOP_LEVEL == set()


def test_no_function_is_longer_than_the_limit():
    files = python_files()
    assert files
    told = [f"{shown(path)}:{line}" for path in files for line in long_functions(path.read_text(encoding="utf-8"))]
    assert told == []


def test_no_module_is_longer_than_the_limit():
    counts = {shown(path): len(path.read_text(encoding="utf-8").splitlines()) for path in python_files()}
    assert {path: count for path, count in counts.items() if count > MODULE_LINES[path.split("/")[0]]} == {}


def test_no_number_is_printed_as_minus_zero():
    files = [path for path in python_files() if shown(path).startswith("assembly/")]
    told = [f"{shown(path)}:{each}" for path in files for each in signed_zeros(path.read_text(encoding="utf-8"))]
    assert told == []


@pytest.mark.parametrize(
    ("source", "found"),
    [
        ('f"{x:.3f}"', 1),
        ('f"{x:.{n}f} and {y:+.1f}"', 2),
        ('f"{x:z.3f} {y:z.{n}f} {y:+z.1f} {n:>{width}} {n:g}"', 0),
    ],
)
def test_numbers_that_may_be_minus_zero_are_found(source, found):
    assert len(signed_zeros(source)) == found


def test_no_file_names_a_machine_or_a_registry():
    files = repository_files()
    assert files
    told = {shown(path): words for path in files if (words := forbidden_words(path.read_bytes()))}
    assert told == {}


def test_every_dependency_has_its_reason():
    assert dependencies_without_reason((ROOT / "pyproject.toml").read_text(encoding="utf-8")) == []


def test_the_package_imports_only_what_it_asks_for():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = [one for name, extra in project["optional-dependencies"].items() if name != "dev" for one in extra]
    asked = {re.split(r"[^\w.-]", requirement)[0].lower() for requirement in (*project["dependencies"], *extras)}
    imported = {name.split(".")[0] for module in modules(ROOT / "assembly") for _, name in module.imports}
    outside = imported - sys.stdlib_module_names - {"assembly"}
    assert "numpy" in outside
    owners = packages_distributions()
    names = {name: {name, COMES_WITH.get(name, name), *owners.get(name, [])} for name in outside}
    assert {name for name, known in names.items() if not asked & {one.lower() for one in known}} == set()


def test_oracles_share_no_code_with_the_package():
    oracles = modules(ROOT / "tests" / "oracles")
    assert any(oracle.imports for oracle in oracles)
    for oracle in oracles:
        assert [name for _, name in oracle.imports if name.split(".")[0] == "assembly"] == [], oracle.path


def noted_as_slow() -> dict[str, list[str]]:
    return json.loads((ROOT / "tests" / "slow_tests.json").read_text(encoding="utf-8"))


def functions_of(file: Path) -> set[str]:
    """Names of the test functions, those in a class with its name."""
    found = set()
    for node in tree_of(file.read_text(encoding="utf-8")).body:
        own = [node] if isinstance(node, ast.FunctionDef) else node.body if isinstance(node, ast.ClassDef) else []
        before = f"{node.name}::" if isinstance(node, ast.ClassDef) else ""
        found |= {before + each.name for each in own if isinstance(each, ast.FunctionDef)}
    return found


def test_what_is_noted_as_slow_is_hardly_out_of_date():
    """A test that was renamed is no longer known as slow: note them anew with --note-slow before many are."""
    noted = {(file, name) for file, names in noted_as_slow().items() for name in names}
    there = {(file.name, name) for file in (ROOT / "tests").glob("test_*.py") for name in functions_of(file)}
    assert len(noted & there) > 0.9 * len(noted) > 0


def test_slow_tests_are_marked_and_no_others(request):
    """Of all that is run with this test: everything, or with --fast what is not slow."""
    noted = {(file, name) for file, names in noted_as_slow().items() for name in names}
    items = request.session.items
    slow = {item for item in items if item.get_closest_marker("slow")}
    assert slow == {
        item for item in items if (item.path.name, item.nodeid.partition("::")[2].partition("[")[0]) in noted
    }
    if request.config.option.markexpr == "not slow and not long":
        assert not slow


BODY = "\n".join(f"    x{k} = 1" for k in range(FUNCTION_LINES - 1))


@pytest.mark.parametrize(
    ("source", "told"),
    [
        pytest.param(f"def f():\n{BODY}\n", [], id="at the limit"),
        pytest.param(f"def f():\n{BODY}\n    y = 1\n", ["1: f has 41 code lines"], id="one over"),
        pytest.param(f'def f():\n    """One\n\n    two."""\n\n    # why\n{BODY}\n', [], id="docstring and comment"),
        pytest.param(
            f'def f():\n{BODY}\n    """Text."""\n    y = """\n"""\n', ["1: f has 42 code lines"], id="long text"
        ),
    ],
)
def test_code_lines_are_counted(source, told):
    assert long_functions(source) == told


@pytest.mark.parametrize("word", [*MACHINE_PATHS, *REGISTRIES])
def test_forbidden_words_are_found(word):
    assert forbidden_words(f"before{word}after".encode()) == [word]


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ('"click>=8.1", # command line', []),
        ('"click>=8.1",', ["click>=8.1"]),
        ('"click>=8.1", #', ["click>=8.1"]),
        ('"numpy>=1.26",', []),
    ],
)
def test_missing_reasons_are_found(line, told):
    pyproject = f"[project]\ndependencies = [\n{line}\n]\n[project.optional-dependencies]\ndev = [\n]\n"
    assert dependencies_without_reason(pyproject) == told


SHARED_NAMES = {
    "Bench": "one of queries, one of reading a file",
    "Change": "of a dimension that is asked about, and between two runs",
    "Slopes": "of a pair's distance, and of rows",
    "Standing": "of rules at settings, and of a pair at a place",
    "nearest": "of solids, and of names",
    "slopes_of": "of a pair's distance, and of rows",
}
"""Public classes and functions of one name in two modules, and why; each is a debt, not an example."""


def public_names(source: str) -> list[str]:
    """Classes and functions at the top of a module."""
    top = tree_of(source).body
    names = [node.name for node in top if isinstance(node, ast.ClassDef | ast.FunctionDef)]
    return [name for name in names if not name.startswith("_")]


def test_no_two_modules_give_one_name_to_two_things():
    """Commands bear the names of what they ask the API for, on purpose."""
    homes: dict[str, list[str]] = {}
    for path in python_files():
        if shown(path).startswith("assembly/") and not shown(path).startswith("assembly/commands/"):
            for name in public_names(path.read_text(encoding="utf-8")):
                homes.setdefault(name, []).append(shown(path))
    assert len(homes) > 1000
    assert {name: where for name, where in homes.items() if len(where) > 1 and name not in SHARED_NAMES} == {}
