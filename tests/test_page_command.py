"""``swingroom page`` and ``sweep --page`` on machines of none to three drives, and against a kept run."""

import json
import re

import pytest
from clocks import Clock
from small_machines import read, slider

from assembly.api.kept_runs import NO_RUN
from assembly.api.main_check import sweep
from assembly.api.page_content import MAP_CELLS, PageWish, write_page
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.cli import main
from assembly.time_limit import time_limit

THREE = """
format = 1
name = "Three ways"
[parts.base]
fixed = true
shapes = [{ name = "block", box = [0, 0, 0], size = [20, 20, 20] }]
[parts.x]
shapes = [{ name = "bx", box = [60, 0, 0], size = [10, 10, 10] }]
[parts.y]
shapes = [{ name = "by", box = [60, 40, 0], size = [10, 10, 10] }]
[parts.z]
shapes = [{ name = "bz", box = [60, 40, 40], size = [10, 10, 10] }]
[joints.jx]
slide = ["base", "x"]
at = [0, 0, 0]
along = [1, 0, 0]
[joints.jy]
slide = ["x", "y"]
at = [0, 0, 0]
along = [0, 1, 0]
[joints.jz]
slide = ["y", "z"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.ahead]
slides = { jx = 1 }
range = [-2, 1]
[drives.aside]
slides = { jy = 1 }
range = [-1, 1]
[drives.up]
slides = { jz = 1 }
range = [-2, 1]
"""


def page_of(folder):
    text = (folder / "page.html").read_text(encoding="utf-8")
    return text, json.loads(re.search(r'id="page-data">(.*?)</script>', text).group(1))


@pytest.fixture(autouse=True)
def _quick(quick_pages):
    """No test here is about how fine pictures and grids are."""


@pytest.fixture(scope="module")
def swept():
    return sweep(read(slider(required=3)), effort=Effort(cores=1), cached=False)


@pytest.fixture
def written(tmp_path):
    def write(text):
        file = tmp_path / "machine.toml"
        file.write_text(text, encoding="utf-8")
        return str(file)

    return write


def test_page_says_where_it_lies_and_its_status_is_the_sweeps(tmp_path, written, capsys):
    assert main(["page", written(slider(required=3)), "--out", str(tmp_path), "--no-picture", "--cores", "1"]) == 1
    out = " ".join(capsys.readouterr().out.split())
    assert f"page: {tmp_path / 'page.html'}" in out
    assert "What to do now - base against sledge: draw" in out
    assert out.endswith("FAILS: 1 of 2 pairs comes nearer than it may")
    text, data = page_of(tmp_path)
    assert "<strong>FAILS</strong>" in text
    assert len(data["map"]["counts"]) == 1
    assert data["map"]["slices"][0]["height"][0] == pytest.approx(15 - 13 / 121 / 2)
    assert data["map"]["range"]["stretches"]
    assert not (tmp_path / "record.json").exists()


def test_sweep_writes_it_beside_the_record_with_what_changed(tmp_path, written, capsys):
    history = ["--history", str(tmp_path / "history.sqlite3"), "--no-picture", "--cores", "1"]
    assert main(["sweep", written(slider()), "--out", str(tmp_path / "one"), "--page", *history]) == 0
    assert "No earlier run of this machine was kept" in page_of(tmp_path / "one")[0]
    assert main(["sweep", written(slider(high=9.5)), "--out", str(tmp_path / "two"), "--page", *history]) == 1
    text, _ = page_of(tmp_path / "two")
    assert "range of push: −5 to +8 mm → −5 to +9.5 mm" in text
    assert "Did not fail, now fails" in text
    assert f"page:    {tmp_path / 'two' / 'page.html'}" in capsys.readouterr().out


STOP = """
[stops.end_stop]
drive = "push"
side = "high"
parts = ["sledge", "base"]
at = [0, 10, 0]
along = [0, 1, 0]
pad = { diameter = 8 }
"""


def test_the_map_has_the_ends_at_which_a_stop_is_declared(tmp_path, written):
    main(["page", written(slider(extra=STOP)), "--out", str(tmp_path), "--no-picture", "--no-range", "--cores", "1"])
    text, data = page_of(tmp_path)
    assert data["map"]["stops"] == [[0, "high"]]
    assert "at a thick edge the file declares a stop: end_stop (push +)" in text


def test_a_third_drive_gives_slices(tmp_path, written, monkeypatch):
    monkeypatch.setitem(MAP_CELLS, 2, 4)
    main(["page", written(THREE), "--out", str(tmp_path), "--no-picture", "--no-range", "--cores", "1"])
    _, data = page_of(tmp_path)
    assert data["map"]["free"] == [0, 1]
    assert data["map"]["counts"] == [4, 4]
    assert [one["held"] for one in data["map"]["slices"]] == [[[2, v]] for v in (-2, -1.25, -0.5, 0, 1)]
    assert len(data["grid"]["axes"]) == 3


def test_what_cannot_be_made_is_said_and_costs_no_page(tmp_path, written, monkeypatch):
    def broken(*_, **__):
        raise RuntimeError("no <ink>")

    monkeypatch.setattr("assembly.api.page_content.map_clearance", broken)
    main(["page", written(slider()), "--out", str(tmp_path), "--no-picture", "--no-range", "--cores", "1"])
    assert "There is no map: no &lt;ink&gt;." in page_of(tmp_path)[0]


@pytest.mark.parametrize("stage", ["pose table", "pictures"])
def test_a_page_for_whose_machine_there_is_no_time_is_written_without_and_says_so(tmp_path, swept, stage):
    clock = Clock()
    with time_limit(10.0, clock):
        wish = PageWish("swingroom sweep slider.toml", 1, usable=False)
        write_page(swept, wish, (None, NO_RUN), clock.at(stage, 12.0), tmp_path / "page.html")
    text, data = page_of(tmp_path)
    (line,) = [line for line in text.splitlines() if "the time limit of 10 s was reached." in line]
    assert "he machine cannot be moved on this page" in line
    assert line.count("a picture could not be drawn") == 1
    assert "there is no map" in line
    assert ("what would help is not told" in line) == (stage == "pose table"), "the rest was made in time"
    assert data["parts"] == []
    assert "<strong>FAILS</strong>" in text
    assert all(f'data-pair="{number}"' in text for number in range(len(swept.record.pairs)))


def test_a_table_of_poses_that_there_is_little_time_for_stays_coarse(tmp_path, swept):
    clock = Clock()
    with time_limit(10.0, clock):
        wish = PageWish("swingroom sweep slider.toml", 1, pictures=False, usable=False)
        write_page(swept, wish, (None, NO_RUN), clock.at("pose table", 9.5), tmp_path / "page.html")
    text, data = page_of(tmp_path)
    assert [part["name"] for part in data["parts"]] == ["base", "sledge", "lug"]
    assert "cannot be moved" not in text


def test_a_folder_that_cannot_be_written_is_told_before_anything_is_swept(tmp_path, written, capsys):
    (tmp_path / "taken").write_text("")
    assert main(["page", written(slider()), "--out", str(tmp_path / "taken")]) == 2
    assert "a file is in the way" in capsys.readouterr().err
