"""Which files under a folder are mechanism files, and that nothing is left out in silence."""

import os
from pathlib import Path

import pytest
from small_machines import slider

from assembly.api.nights.finding import find_mechanisms


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def write(name, text=""):
        path = Path(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text or slider(), encoding="utf-8")
        return path

    return write


def paths(found):
    return [file.path.as_posix() for file in found.files]


def test_files_below_are_found_in_order_and_others_named(shop):
    for name in ("b.toml", "a/deep/er.toml", "a/x.toml"):
        shop(name)
    shop("tools.toml", "[tool]\nformat = 1\n")
    shop("notes.txt", slider())
    shop(".hidden/y.toml")
    found = find_mechanisms([Path()])
    assert paths(found) == ["a/deep/er.toml", "a/x.toml", "b.toml"]
    assert [path.as_posix() for path in found.others] == ["tools.toml"]
    assert found.faults == ()


@pytest.mark.parametrize(
    "text",
    [
        "format = 1\n[parts.a]\nshapes = [",
        "format = 99\n[parts.a]\n",
        "  format=1\n[ parts . a ]\n",
        "format = 1\nparts.a.fixed = true\n",
        "format = 1\n[parts]\n\xff",
    ],
)
def test_broken_mechanism_files_are_not_taken_for_something_else(shop, text):
    path = shop("x.toml", text)
    path.write_bytes(text.encode("latin-1"))
    assert paths(find_mechanisms([Path()])) == ["x.toml"]


@pytest.mark.parametrize("text", ["[parts.a]\n", "format = 1\n", "x = 'format = 1 [parts]'\n", "formats = 1\n[parts]"])
def test_files_about_something_else_are_others(shop, text):
    shop("x.toml", text)
    assert len(find_mechanisms([Path()]).others) == 1


def test_a_file_may_be_named_itself_and_is_checked_once(shop):
    shop("a/x.toml")
    found = find_mechanisms([Path("a/x.toml"), Path("a"), Path()])
    assert paths(found) == ["a/x.toml"]


def test_a_place_that_is_not_there_is_a_fault_beside_the_others(shop):
    shop("a/x.toml")
    found = find_mechanisms([Path("gone"), Path("a")])
    assert paths(found) == ["a/x.toml"]
    assert found.faults == ((Path("gone"), "cannot be read: No such file or directory"),)


@pytest.mark.skipif(os.name != "posix", reason="links")
def test_a_link_that_leads_nowhere_is_a_fault_and_a_ring_of_folders_ends(shop):
    shop("a/x.toml")
    Path("a/ring").symlink_to("..", target_is_directory=True)
    Path("a/dead.toml").symlink_to("gone.toml")
    found = find_mechanisms([Path("a")])
    assert paths(found) == ["a/x.toml"]
    assert found.faults == ((Path("a/dead.toml"), "cannot be read: No such file or directory"),)


def test_every_file_has_a_results_folder_of_its_own(shop):
    for name in ("left/arm.toml", "right/arm.toml", "x/right/arm.toml", "right/ARM_2/arm.toml", "gate.toml"):
        shop(name)
    names = [file.name for file in find_mechanisms([Path()]).files]
    assert len({name.casefold() for name in names}) == len(names) == 5
    assert {"arm", "gate", "right_arm"} < set(names)
