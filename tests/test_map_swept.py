"""One proof, one number: a map gives the sweep's answer for its pairs, and no cell is proven less than the sweep."""

import csv
from pathlib import Path

import pytest
from click.testing import CliRunner
from clocks import Clock
from small_machines import quiet, read, slider
from test_mapping import BALLS, TABLE

import assembly
import assembly.api.page_content
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.cli import ExitStatus, commands
from assembly.report.text.map_text import map_blocks
from assembly.report.text.terminal import plain_lines
from assembly.studies.map_study import MapWish, map_clearance
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import JointsFound
from assembly.studies.sweep.sweep_record import sweep_record
from assembly.studies.sweep.verdict import of_pairs
from assembly.time_limit import time_limit


def both(text, **wish):
    """The map on its own, and with the sweep's answer."""
    machine = read(text)
    bare = map_clearance(machine, MapWish(**wish), quiet).record
    return bare, bounded(bare, check(machine, Effort(), quiet))


def bounded(bare, checked):
    """The map with what the sweep says of its pairs."""
    return bare.bounded(of_pairs(sweep_record(checked, JointsFound()), bare.names))


def words(record):
    blocks = map_blocks(record, "swingroom sweep x.toml")
    return " ".join(line.strip() for block in blocks for line in plain_lines(block))


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (slider(high=12.7), "2.70 to 2.71 mm deep"),  # closed form: the gap is 10 mm less the setting
        (slider(high=8.0, required=5.0), "comes within 2.00 mm of sledge (nose) at push +8 mm"),
    ],
    ids=["strikes", "too near"],
)
def test_a_failing_map_tells_what_the_sweep_found_and_no_other_depth(text, told):
    bare, full = both(text, cells=4)
    assert "FAILS" not in words(bare)
    assert told in words(full)
    assert "misses most" not in words(full)
    assert full.fails
    assert "Measured below what is required in 1 of 4 steps." in words(full)


def test_what_only_the_sweep_sees_fails_the_map_too():
    """Closed form: 1 mm is left between 9 and 9.1 mm; the last centre is at 7.3 mm, with 2.7 mm left."""
    bare, full = both(slider(high=9.1), cells=4)
    assert not bare.fails
    assert full.fails
    assert "Measured below" not in words(full)


def test_a_slice_takes_the_sweeps_bound_but_not_its_least():
    """Closed form: with x held at -20 the tool stays 65 mm off; the least of the whole range is not in the slice."""
    bare, full = both(TABLE.replace("-20, 60", "-20, 30"), held={"x": -20.0}, cells=2)
    assert full.answer is None
    assert full.swept is not None
    assert "FAILS" not in words(full)
    assert "CLEAR" not in words(full)
    lowest = min(pair.proven_mm for pair in full.swept.pairs if (pair.a, pair.b) in full.names)
    for cell, before in zip(full.cells, bare.cells, strict=True):
        assert cell.proven_mm == pytest.approx(max(before.proven_mm, lowest))


def test_where_the_sweep_proves_nothing_the_cells_stay_as_they_are():
    machine = read(BALLS)
    bare = map_clearance(machine, MapWish(cells=4), quiet).record
    clock = Clock()
    with time_limit(1.0, clock):
        full = bounded(bare, check(machine, Effort(), clock.at("sweep", 1.2)))
    assert full.swept.verdict == "undecided"
    assert full.undecided
    assert full.cells == bare.cells


def test_one_pair_is_swept_alone_and_the_command_tells_it(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("rig.toml").write_text(slider(high=12.7), encoding="utf-8")
    arguments = ["map", "rig.toml", "--pair", "lug", "base", "--grid", "3", "--cores", "1", "--out", "here"]
    done = CliRunner().invoke(commands, arguments, standalone_mode=False)
    assert done.return_value == ExitStatus.CLEAR  # the sledge strikes, the lug keeps 22 - 12.7 mm
    assert "CLEAR: the pair keeps its clearance" in done.stdout
    assert "base (block) to lug (ear), 9.30 mm apart at push +12.7 mm" in done.stdout
    with (Path("here") / "map_lug_base.csv").open(encoding="utf-8") as file:
        proven = [float(line["proven_mm"]) for line in csv.DictReader(file)]
    assert all(value >= 9.1 for value in proven)


def test_the_page_takes_the_sweep_that_it_has_for_its_map(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    Path("rig.toml").write_text(BALLS, encoding="utf-8")
    pages = []
    monkeypatch.setattr(assembly.api.page_content, "page_html", lambda page: pages.append(page) or "")
    arguments = ["page", "rig.toml", "--cores", "1", "--no-picture", "--no-range", "--out", "here"]
    CliRunner().invoke(commands, arguments, standalone_mode=False)
    ((made,),) = (page.maps for page in pages)
    (pair,) = made.swept.pairs
    assert (pair.least_mm, pair.proven_mm) == (pages[0].record.pairs[0].least_mm, pages[0].record.pairs[0].proven_mm)
    assert min(cell.proven_mm for cell in made.cells) >= pair.proven_mm


def test_the_library_gives_the_map_with_the_same_answer():
    record = assembly.clearance_map(read(slider(high=8.0, required=5.0)), cells=3, cores=1)
    assert record.swept.verdict == "fails"
    assert record.swept.pairs[0].least_mm == pytest.approx(2.0)
