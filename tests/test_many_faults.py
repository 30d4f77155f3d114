"""A file with thousands of faults: fifty are reported in full and the rest is counted, at a cost in step with its size.

Cost is counted in comparisons of names and rounds of sorting, not in seconds.
"""

import difflib
import gc
import graphlib
import sys
from pathlib import Path

import pytest

import assembly.api
import assembly.model.dimensions
from assembly.cli import ExitStatus, main
from assembly.errors import InputError
from assembly.model import arithmetic, fault_list, meshes, plain_values, positions, reader, schema, shapes
from assembly.model.dimensions import solve_dimensions
from assembly.model.mirror import Mirror, read_mirror
from assembly.model.positions import Positions
from assembly.model.quantities_read import FileNumbers, Points
from assembly.model.reader import machine_from_text

FRAME = "format = 1\n[parts.frame]\nfixed = true\nshapes = [{ box = [0, 0, 0], size = [9, 9, 9] }]\n"
COUNT = 3000
KINDS = {
    "misspelt dimensions": "[dimensions]\n" + "".join(f'alpha_{k} = "alhpa_{k}"\n' for k in range(COUNT)),
    "misspelt parts": "".join(
        f'[joints.joint_{k}]\npin = ["frame", "fraem_{k}"]\nat = [0, 0, 0]\nalong = [0, 0, 1]\n' for k in range(COUNT)
    ),
    "misspelt points": "".join(
        f'[parts.part_{k}]\nshapes = [{{ tube = ["here_{k}", [0, 0, 9]], diameter = 5 }}]\n' for k in range(COUNT)
    ),
    "shapes of no kind": "".join(f"[parts.part_{k}]\nshapes = [{{ boxx = [0, 0, 0] }}]\n" for k in range(COUNT)),
    "misspelt keys": "".join(f"shaeps_{k} = 1\n" for k in range(COUNT)),
    "arithmetic": "[points]\n" + "".join(f'point_{k} = ["wdith_{k}", 0, 0]\n' for k in range(COUNT)),
}


def faults_of(text):
    with pytest.raises(InputError) as caught:
        machine_from_text(text, Path())
    return caught.value.faults


@pytest.mark.parametrize("kind", KINDS)
def test_fifty_faults_are_told_and_the_rest_is_counted_without_looking_for_near_names(monkeypatch, kind):
    asked = []
    closest = difflib.get_close_matches

    def counted(name, among, *arguments, **options):
        asked.append(len(among))
        return closest(name, among, *arguments, **options)

    monkeypatch.setattr(difflib, "get_close_matches", counted)
    *told, last = faults_of(FRAME + KINDS[kind])
    assert len(told) == 50
    assert all(fault.line is not None for fault in told)
    assert int(last.message.split()[3]) >= COUNT - 50
    assert "mend the first 50" in str(last)
    assert sum(asked) <= 50 * 100


@pytest.mark.parametrize(
    "table",
    [
        "[dimensions]\n" + "".join(f"d{k} = {{ value = 1, plus_minus = -1 }}\n" for k in range(6000)),
        "[points]\n" + "".join(f"p{k} = [0, 0]\n" for k in range(6000)),
        "[dimensions]\n" + "".join(f"a{k} = 'b{k}'\nb{k} = 'a{k}'\n" for k in range(6000)),
        "[mirror]\n" + "".join(f"l{k} = 5\n" for k in range(6000)),
    ],
)
def test_where_thousands_of_faults_are_counted_the_rest_is_not_read(table, monkeypatch):
    """Counting the other 2000 of these took as long again as 2000 sound entries."""
    noted = []
    mark = fault_list.FaultLog._mark
    monkeypatch.setattr(fault_list.FaultLog, "_mark", lambda log, place: noted.append(1) or mark(log, place))
    *told, last = faults_of(FRAME + table)
    assert len(told) == 50
    assert last.message == "and at least 4000 more faults"
    assert len(noted) == 50 + 4000 - 1  # the last one ends it


def test_two_thousand_cycles_are_found_in_two_rounds(monkeypatch):
    rounds = []

    class Counted(graphlib.TopologicalSorter):
        def __init__(self, graph):
            rounds.append(len(graph))
            super().__init__(graph)

    monkeypatch.setattr(assembly.model.dimensions, "TopologicalSorter", Counted)
    text = (Path(__file__).parent / "cases" / "files" / "cyc2000.toml").read_text(encoding="utf-8")
    *told, last = faults_of(text)
    assert str(told[0]).endswith(
        "a0: goes round in a circle: a0 -> b0 -> a0; give one of these dimensions a plain number"
    )
    assert (len(told), last.message) == (50, "and at least 1950 more faults")
    assert len(rounds) <= 2


def test_cycles_that_hang_together_are_each_told_and_what_leans_on_them_is_not():
    given = {"a": "b", "b": "a + c", "c": "c", "d": "a", "e": "2 * f", "f": 3}
    solved = solve_dimensions(given)
    assert solved.values == {"e": 6.0, "f": 3.0}
    told = {name: fault.message for name, fault in solved.faults.items()}
    assert told == {"a": "goes round in a circle: a -> b -> a", "c": "goes round in a circle: c -> c"}


def test_near_name_is_found_among_thousands():
    names = "".join(f"length_{k} = {k}\n" for k in range(1, COUNT))
    (fault,) = faults_of(f'{FRAME}[dimensions]\n{names}foot = "lenght_1234"\n')
    assert "the nearest of the dimensions is `length_1234`" in str(fault)


def test_a_long_cycle_is_told_by_its_ends():
    """It once was a line of five thousand characters."""
    ring = "".join(f'ring_{k} = "ring_{(k + 1) % 400} + 1"\n' for k in range(400))
    (fault,) = faults_of(FRAME + "[dimensions]\n" + ring)
    told = [f"ring_{k}" for k in range(6)] + ["389 more"] + [f"ring_{k}" for k in range(395, 400)] + ["ring_0"]
    assert fault.message == "goes round in a circle: " + " -> ".join(told)


def test_a_cycle_of_a_dozen_is_told_whole():
    ring = "".join(f'ring_{k} = "ring_{(k + 1) % 12}"\n' for k in range(12))
    (fault,) = faults_of(FRAME + "[dimensions]\n" + ring)
    assert fault.message.count(" -> ") == 12
    assert "more" not in fault.message


def test_only_the_tables_on_the_way_to_a_fault_are_looked_into(monkeypatch):
    """The lines of every key of the file were looked up for the sake of fifty: half the time of a large one."""
    keys = []
    steps = positions._steps
    monkeypatch.setattr(positions, "_steps", lambda node: keys.append(1) or steps(node))
    faults_of(FRAME + KINDS["misspelt parts"])
    assert len(keys) <= COUNT + 50 * 10  # each header once, and what lies in fifty tables


LONG = FRAME + "".join(f"[joints.joint_{k}]\npin = ['frame', 'fraem_{k}']\nat = [0, 0, 0]\n" for k in range(COUNT))


def test_only_the_beginning_of_a_long_file_is_parsed_for_the_lines_of_its_first_faults(monkeypatch):
    """A parse of the whole, for fifty lines, took a quarter of the time."""
    parsed = []
    piece = positions._Piece
    monkeypatch.setattr(positions, "_Piece", lambda source: parsed.append(len(source)) or piece(source))
    told = faults_of(LONG)[:-1]
    assert [fault.line for fault in told] == [5 + 3 * k for k in range(50)]  # closed form: three lines for each joint
    assert parsed
    assert max(parsed) <= 65536 < len(LONG) / 2


@pytest.mark.parametrize("quotes", ['"""', "'''"])
def test_a_beginning_that_ends_within_a_text_or_a_list_is_not_trusted(quotes):
    """What looks like an entry there is none: the line is that of the entry below."""
    within = f"notes = {quotes}\n[parts.arm]\n{'x' * 200_000}\n{quotes}\n"
    assert Positions(within + "[parts.arm]\nfixed = true\n").line(("parts", "arm")) == 5
    rows = "[points]\nfar = [\n" + "  0,\n" * 50_000 + "]\n"
    assert Positions(rows).line(("points", "far", 49_999)) == 50_002


def test_where_fifty_faults_are_told_no_solid_is_made_and_no_mesh_file_is_read(monkeypatch):
    monkeypatch.setattr(meshes, "mesh_bytes", None)
    monkeypatch.setattr(shapes.geometry, "box", None)
    good = "[parts.good]\nmeshes = [{ file = 'none.stl' }]\nshapes = [{ box = [0, 0, 0], size = [1, 1, 1] }]\n"
    *told, last = faults_of(f"{FRAME}{good}[points]\n" + "".join(f"p{k} = 1\n" for k in range(49)))
    assert len(told) == 50, "those of the points, and a part that nothing holds"
    assert last.message == "and perhaps more"


@pytest.mark.parametrize(
    ("kind", "left_out"),
    [
        ("misspelt dimensions", "read_part_tables"),
        ("arithmetic", "read_own_points"),
        ("misspelt parts", "read_own_points"),
        ("misspelt points", "read_own_points"),  # no chain of joints ties these parts either
        ("shapes of no kind", "read_own_points"),
    ],
)
def test_once_fifty_are_told_what_comes_after_is_not_read(kind, left_out, monkeypatch):
    """To count them too took up to half of the time; that there are at least so many more is true without it."""
    monkeypatch.setattr(reader, left_out, None)
    *told, last = faults_of(FRAME + KINDS[kind])
    assert len(told) == 50
    assert int(last.message.split()[3]) >= COUNT - 50


def test_once_fifty_parts_are_faulty_no_joint_is_read_and_no_solid_made(monkeypatch):
    monkeypatch.setattr(reader, "read_joint", None)
    monkeypatch.setattr(meshes, "mesh_bytes", None)
    monkeypatch.setattr(shapes.geometry, "box", None)
    faulty = "".join(f"[parts.p{k}]\nfixed = true\nshapes = [{{ boxx = 1 }}]\n" for k in range(60))
    good = (
        "[parts.good]\nfixed = true\nmeshes = [{ file = 'x.stl' }]\nshapes = [{ box = [0, 0, 0], size = [1, 1, 1] }]\n"
    )
    joint = '[joints.j]\npin = ["p0", "p1"]\nat = "nowhere"\nalong = [0, 0, 1]\n'
    *told, last = faults_of(f"format = 1\n{faulty}{good}{joint}")
    assert (len(told), last.message) == (50, "and at least 10 more faults")


def test_what_was_read_of_a_faulty_file_is_gone_when_rings_are_looked_for_again(monkeypatch):
    """The error held all of it: its hundred thousand containers were gone through, for a tenth of a second."""
    left = []
    monkeypatch.setattr(gc, "enable", lambda enable=gc.enable: left.append(len(gc.get_objects())) or enable())
    before = len(gc.get_objects())
    faults_of(FRAME + KINDS["misspelt parts"])
    assert left[-1] - before < COUNT


def test_kinds_of_table_are_not_hashed_for_each_table(monkeypatch):
    """The hash of a type of several choices takes longer than the check of a table."""
    hashed = []
    kind = type(schema.ThreeNumbers)
    monkeypatch.setattr(kind, "__hash__", lambda self, own=kind.__hash__: hashed.append(1) or own(self))
    faults_of(FRAME + KINDS["arithmetic"])
    assert len(hashed) < 100


class Unlisted(dict):
    """A table that is looked up in, and never gone through."""

    def __iter__(self):
        raise AssertionError("gone through")

    keys = values = items = __iter__


def test_points_are_not_copied_for_each_part_and_joint():
    """A file of ten thousand points and as many joints took minutes."""
    shared = Unlisted(a=(0.0, 0.0, 0.0), b=(1.0, 0.0, 0.0))
    points = Points(FileNumbers(None, {}), shared)
    assert points.with_own({}) is points
    own = points.with_own({}, {"b": (2.0, 0.0, 0.0)}, {"b": (3.0, 0.0, 0.0), "c": (4.0, 0.0, 0.0)})
    assert [own.point(name, ())[0] for name in "abc"] == [0, 2, 4]


def test_names_are_looked_at_word_by_word_and_not_mirror_word_by_mirror_word():
    """A mirror of ten thousand words took minutes."""
    mirror = Mirror({"left": "right", "near": "far"})
    object.__setattr__(mirror, "words", Unlisted(mirror.words))
    assert mirror.other_side("rod_right-near 2") == "rod_left-far 2"
    assert mirror.has_twin("rod_left")
    assert not mirror.has_twin("rod_right")
    assert mirror.says_both("left_right")
    assert not mirror.says_both("left_far")


def test_a_mirror_of_many_words_that_stand_in_two_pairs_says_so():
    words = "".join(f"l{k} = 'r{k % 2900}'\n" for k in range(COUNT))
    *told, last = faults_of(f"{FRAME}[mirror]\n{words}")
    assert told[0].message == "`r0` stands in two mirror pairs"
    assert last.message == "and at least 50 more faults"


def test_nothing_looks_for_rings_while_a_file_is_read(monkeypatch):
    seen = []
    monkeypatch.setattr(reader, "read_mirror", lambda *given: seen.append(gc.isenabled()) or read_mirror(*given))
    machine_from_text(FRAME, Path())
    assert (seen, gc.isenabled()) == ([False], True)


def test_the_names_of_a_file_are_sorted_once_for_all_faults(monkeypatch):
    ranked = []
    monkeypatch.setattr(
        fault_list, "sorted", lambda *names, **by: ranked.append(1) or sorted(*names, **by), raising=False
    )
    fault_list._ranked.cache_clear()
    faults_of(FRAME + KINDS["misspelt dimensions"])
    assert len(ranked) <= 3  # forwards and backwards, and the faults by their lines


@pytest.mark.parametrize(
    ("command", "module"),
    [
        *(("inspect", "questions"), ("range", "questions"), ("loads", "questions"), ("map", "swept_map")),
        *(("sweep", "main_check"), ("page", "page_content"), ("pose", "picture_scenes"), ("stop", "picture_scenes")),
        *(("helps", "what_helps"), ("export", "moving_views"), ("picture", "moving_views")),
    ],
)
def test_a_file_with_faults_is_refused_before_what_answers_is_loaded(command, module, tmp_path, monkeypatch, capsys):
    """Loading the studies took half of the time in which a megabyte of faults was told."""
    monkeypatch.chdir(tmp_path)
    Path("m.toml").write_text(FRAME + "shaeps = 1\n", encoding="utf-8")
    monkeypatch.delitem(sys.modules, f"assembly.api.{module}", raising=False)
    monkeypatch.delattr(assembly.api, module, raising=False)
    assert main([command, "m.toml"]) == ExitStatus.INPUT
    assert "shaeps" in capsys.readouterr().err
    assert f"assembly.api.{module}" not in sys.modules


def test_a_plain_name_is_not_parsed(monkeypatch):
    monkeypatch.setattr(arithmetic.ast, "parse", None)
    assert arithmetic.names_in("never_seen_before") == {"never_seen_before"}
    assert arithmetic.evaluate("never_seen_before", {"never_seen_before": 7.0}) == 7


def test_words_of_faults_that_are_only_counted_are_never_put_together(monkeypatch):
    said = []
    given = plain_values.given
    monkeypatch.setattr(plain_values, "given", lambda value: said.append(1) or given(value))
    faults_of(FRAME + "[mirror]\n" + "".join(f"l{k} = 5\n" for k in range(COUNT)))
    faults_of(FRAME + "[road]\ntoe_set_at = { " + ", ".join(f"d{k} = true" for k in range(COUNT)) + " }\n")
    assert len(said) == 2 * 50
