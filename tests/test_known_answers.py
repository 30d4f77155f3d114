"""The whole answer to an unchanged file is known; whatever may change an answer asks for a new search."""

import os
import shutil
import sqlite3
from dataclasses import replace

import pytest
from click.testing import CliRunner
from small_machines import slider

import assembly.api.known_answers as known_answers
from assembly.api.known_answers import keep_answer, known_answer
from assembly.cli import ExitStatus, commands
from assembly.geometry.mesh_size import largest_mesh
from assembly.geometry.shapes import box
from assembly.geometry.stl import stl_bytes
from assembly.record import json_text, load_record

MESH = '[parts.lug]\nmeshes = [{ file = "lug.stl", at = [0, 35, 20] }]\n'
LUG = slider().replace('[parts.lug]\nshapes = [{ name = "ear", box = [0, 35, 20], size = [6, 6, 20] }]\n', MESH)
ASKED = {"within": 0.1, "pairs": (), "parts": ()}
PICTURE = b"what was drawn"


def swept(file, *options):
    """One command, and how many sweeps it made."""
    before = len(SWEEPS)
    run = CliRunner().invoke(commands, ["sweep", str(file), "--cores", "1", *options], standalone_mode=False)
    assert run.exception is None, run.exception
    return run, len(SWEEPS) - before


def findings_told(text, folder):
    """The words of what was printed, but for how long it took, where files lie and where lines of long paths end."""
    lines = text.replace(str(folder), "").splitlines()
    kept = [line for line in lines if "triangles in" not in line and "as computed before" not in line]
    return " ".join(kept).split()


SWEEPS: list[object] = []


@pytest.fixture(autouse=True)
def counted(monkeypatch):
    from assembly.commands import common

    aloud = common.sweep_aloud

    def sweep_aloud(machine, effort, **how):
        SWEEPS.append(machine)
        return aloud(machine, effort, **how)

    monkeypatch.setattr(common, "sweep_aloud", sweep_aloud)


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """A folder with a machine of one mesh file, the cache in which its answer is, and that answer."""
    folder = tmp_path_factory.mktemp("known") / "shop"
    folder.mkdir()
    (folder / "lug.stl").write_bytes(stl_bytes(box((0, 0, 0), (6, 6, 20))))
    (folder / "rig.toml").write_text(LUG, encoding="utf-8")
    cache = folder.parent / "pairs.sqlite3"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("SWINGROOM_MEMORY", str(cache))
        run = CliRunner().invoke(
            commands,
            ["sweep", str(folder / "rig.toml"), "--cores", "1", "--no-picture", "--out", str(folder / "out")],
            standalone_mode=False,
        )
    assert run.return_value == ExitStatus.CLEAR
    return folder, cache, load_record(folder / "out" / "record.json"), run.stdout


@pytest.fixture
def shop(done, tmp_path, monkeypatch):
    """A copy of both, so that each test may change what it likes."""
    folder, cache, record, _ = done
    shutil.copytree(folder, tmp_path / "shop")
    shutil.copy(cache, tmp_path / "pairs.sqlite3")
    monkeypatch.setenv("SWINGROOM_MEMORY", str(tmp_path / "pairs.sqlite3"))
    return tmp_path / "shop" / "rig.toml", record


def known(file, asked=ASKED):
    said = []
    found = known_answer(file, asked, 1, said.append)
    assert said == []
    return found


def test_an_unchanged_file_is_told_as_before_without_a_search(shop, done):
    file, record = shop
    run, sweeps = swept(file, "--no-picture", "--out", str(file.parent / "out"))
    assert (sweeps, run.return_value) == (0, ExitStatus.CLEAR)
    assert findings_told(run.stdout, file.parent) == findings_told(done[3], done[0])
    assert "all pairs as computed before" in run.stdout
    again = load_record(file.parent / "out" / "record.json")
    assert again.pairs == record.pairs
    assert again.joints == record.joints
    assert (again.work.recalled, again.work.distance_queries) == (len(record.pairs), 0)
    assert again.made >= record.made


def changed_text(before, after):
    def change(file, _patch):
        text = file.read_text(encoding="utf-8")
        assert before in text
        file.write_text(text.replace(before, after), encoding="utf-8")

    return change


def changed_mesh(file, _patch):
    mesh = file.parent / "lug.stl"
    data = bytearray(mesh.read_bytes())
    data[84 + 12] ^= 1  # the last bit of a corner of the first facet
    mesh.write_bytes(data)


def linked_mesh(file, _patch):
    """The same bytes, but outside of the machine's folder: the record has a note of that."""
    away = file.parent.parent / "away.stl"
    (file.parent / "lug.stl").rename(away)
    (file.parent / "lug.stl").symlink_to(away)


def no_mesh(file, _patch):
    (file.parent / "lug.stl").unlink()


def other_program(_file, patch):
    patch.setattr(known_answers, "whole_program_digest", lambda: "another")


@pytest.mark.parametrize(
    "change",
    [
        changed_text("size = [20, 20, 20]", "size = [20, 20.001, 20]"),
        changed_text("required = 1.0", "required = 1.5"),
        changed_text("[-5.0, 8.0]", "[-5.0, 8.5]"),
        changed_text("at = [0, 35, 20]", "at = [0, 35, 21]"),
        changed_text("[clearance]", "# looked at again\n[clearance]"),
        changed_mesh,
        linked_mesh,
        no_mesh,
        other_program,
    ],
    ids=["size", "clearance", "range", "place", "any byte", "mesh bit", "link", "no mesh", "program"],
)
def test_what_may_change_the_answer_makes_it_unknown(shop, monkeypatch, change):
    file, _ = shop
    assert known(file) is not None
    change(file, monkeypatch)
    assert known(file) is None


@pytest.mark.parametrize("asked", [{"within": 0.05}, {"pairs": (("base", "lug"),)}, {"parts": ("lug",)}], ids=str)
def test_other_options_are_another_question(shop, asked):
    assert known(shop[0], {**ASKED, **asked}) is None


def test_names_of_file_and_folder_and_the_largest_mesh_are_part_of_the_question(shop):
    file, _ = shop
    with largest_mesh(500):
        assert known(file) is None
    other = file.parent / "other.toml"
    shutil.copy(file, other)
    assert known(other) is None
    file.parent.rename(file.parent.parent / "yard")  # a machine without a name is called by its folder
    assert known(file.parent.parent / "yard" / "rig.toml") is None


def test_recompute_and_a_time_limit_search_and_no_cache_works_too(shop, monkeypatch):
    file, record = shop
    out = ("--no-picture", "--out", str(file.parent / "out"))
    assert swept(file, "--recompute", *out)[1] == 1
    assert swept(file, "--time-limit", "1000", *out)[1] == 1
    monkeypatch.setenv("SWINGROOM_MEMORY", "off")
    run, sweeps = swept(file, *out)
    assert (run.return_value, sweeps) == (ExitStatus.CLEAR, 1)
    assert load_record(file.parent / "out" / "record.json").pairs == record.pairs


def test_what_ended_early_or_was_of_other_bytes_is_not_kept(shop, monkeypatch):
    file, record = shop
    monkeypatch.setenv("SWINGROOM_MEMORY", str(file.parent / "new.sqlite3"))
    early = [
        replace(record, work=replace(record.work, stopped="stopped by hand")),
        replace(record, work=replace(record.work, budget_s=60.0)),
        replace(record, machine=replace(record.machine, digests={**record.machine.digests, "rig.toml": "0" * 64})),
    ]
    for one in early:
        keep_answer(file, ASKED, one, None, pytest.fail)
        assert known(file) is None
    keep_answer(file, ASKED, record, None, pytest.fail)
    assert json_text(known(file).record.pairs) == json_text(record.pairs)


def test_a_file_that_is_saved_while_the_answer_is_kept_is_not_answered_by_it(shop, monkeypatch):
    """Another process may hold the cache for seconds; an editor saves meanwhile."""
    file, record = shop
    opened = known_answers.SealedRows

    def slowly_opened(*given):
        text = file.read_text(encoding="utf-8")
        file.write_text(text.replace("[-5.0, 8.0]", "[-5.0, 80.0]"), encoding="utf-8")
        return opened(*given)

    with monkeypatch.context() as patch:
        patch.setattr(known_answers, "SealedRows", slowly_opened)
        keep_answer(file, ASKED, record, None, pytest.fail)
    assert "[-5.0, 80.0]" in file.read_text(encoding="utf-8")
    assert known(file) is None


def test_the_picture_is_written_where_it_is_known_and_drawn_where_it_is_not(shop):
    file, record = shop
    drawn = file.parent / "drawn.png"
    drawn.write_bytes(PICTURE)
    keep_answer(file, ASKED, record, drawn, pytest.fail)
    assert known(file).picture == PICTURE
    out = file.parent / "fresh"
    run, sweeps = swept(file, "--out", str(out))
    assert sweeps == 0
    assert (out / "closest.png").read_bytes() == PICTURE
    assert "closest.png" in run.stdout


def test_an_altered_answer_is_searched_again(shop):
    """A row whose figures were edited without the key of this program is not taken."""
    file, _ = shop
    with sqlite3.connect(os.environ["SWINGROOM_MEMORY"]) as rows:
        for key, row in rows.execute("SELECT key, packed FROM known").fetchall():
            rows.execute("UPDATE known SET packed = ? WHERE key = ?", (row[:-1] + bytes([row[-1] ^ 1]), key))
    assert known(file) is None
