"""What a sweep tells besides pairs of cables, rods and wheels: in its record, its report, its page and comparisons."""

from dataclasses import replace
from math import ceil, cos, exp, radians, sqrt

import pytest
from cable_machines import ENDS, OVER_THE_PIN, bars_text, hinged
from small_machines import read

import assembly
from assembly.errors import TimeLimitError
from assembly.history import compare
from assembly.record import json_text, record_of
from assembly.report.page import Page, page_html
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.layout import Table
from assembly.report.text.sweep_text import sweep_blocks

QUICK = assembly.Effort(decide_only=True, cores=1)


def words(blocks):
    """Lines, headings and rows of a report, one below the other."""
    told = []
    for block in blocks:
        told += [" ".join(row) for row in block.rows] if isinstance(block, Table) else [block.text]
    return "\n".join(told)


def page_of(record):
    return page_html(Page(record, None, "swingroom sweep m.toml", no_change="No earlier run was kept."))


def swept(machine):
    return assembly.sweep(machine, effort=QUICK, cached=False).record


def changes(before, now):
    return {one.name: one for one in compare(before, now, shrank_mm=0.5).figures}


def needed(arm, degrees):
    """Law of cosines: from the stop at 250 to the end of an arm that stands at 60 + d degrees (TC-04 with 80)."""
    return sqrt(250**2 + arm**2 - 500 * arm * cos(radians(60 + degrees)))


HOSE = f"""
[cables.hose_a]
friction = 0.1
free_play = 2
runs = [{{ through = [{OVER_THE_PIN}], bend = 60, outer = 420, slack = 10, diameter = 6 }}]
[cables.hose_b]
runs = [{{ through = [{OVER_THE_PIN}], bend = 60, outer = 420 }}]
[splitters.beam]
to = ["hose_a", "hose_b"]
pulls = [9, 9]
arms = [20, 20]
force = 600
"""


@pytest.fixture(scope="module")
def brake():
    """TC-04's brake cable, swept."""
    return swept(read(bars_text(f"[cables.brake]\nfree_play = 12\nruns = [{{ through = [{ENDS}] }}]\n")))


@pytest.fixture(scope="module")
def hoses():
    """Two hoses over the pin of an arm, and the beam that shares one pull between them."""
    return swept(hinged(HOSE, low=-30, high=30))


def test_a_sweep_tells_lengths_to_cut_from_its_own_brackets(brake):
    """TC-04: 281.52 at +45; set at 0, its play of 12 is used up where the closed form is 12 more than there."""
    (cable,) = brake.cables.cables
    assert needed(80, 45) <= cable.inner_to_cut <= needed(80, 45) + 0.01
    assert cable.pull == next(one for one in brake.measures if one.name == "brake pull")
    right = next(side for side in cable.sides if side.to > 0)
    assert needed(80, right.pulled_from) == pytest.approx(needed(80, 0) + 12, abs=0.01)
    assert record_of(json_text(brake), "brake") == brake


def test_a_sweep_tells_what_of_a_pull_comes_behind_the_bends(hoses):
    """Closed form: half of 600 N through exp(-0.1 · 30°)."""
    first, second = hoses.cables.splitters[0].ends
    assert first.force == pytest.approx(300 * exp(-0.1 * radians(30)), abs=0.06)
    assert second.force == 300


def test_the_report_and_the_page_tell_cables_and_what_no_sweep_looks_for(brake, hoses):
    for record, told in ((brake, "brake inner"), (hoses, "beam to hose_a"), (hoses, "What the slack hoses of hose_a")):
        assert told in words(sweep_blocks(record))
        assert told in page_of(record)
    assert hoses.cables.cables[0].runs[0].near == ()
    assert ">Cables<" not in page_of(replace(brake, cables=None))


def test_a_comparison_tells_each_figure_of_cables_that_is_another(brake):
    """Law of cosines with an arm of 84 for 80."""
    text = bars_text(f"[cables.brake]\nfree_play = 12\nruns = [{{ through = [{ENDS}] }}]\n").replace("80 *", "84 *")
    longer = swept(read(text))
    found = changes(brake, longer)
    cut = found["brake inner, to cut at least"]
    assert cut.before == pytest.approx(needed(80, 45), abs=0.01)
    assert cut.now == pytest.approx(needed(84, 45), abs=0.01)
    assert {"brake, pulled at most with swing above 0", "brake, acts from, with swing above 0"} <= set(found)
    assert all(one.about == "cables" for one in found.values())
    told = words(compare_blocks(compare(brake, longer, shrank_mm=0.5)))
    assert "Lengths to cut, pulls and forces of cables" in told
    assert f"brake inner, to cut at least: 281.53 mm → {ceil(100 * cut.now) / 100:.2f} mm" in told
    assert not changes(longer, longer)


def test_a_cut_is_never_told_shorter_than_it_must_be(brake):
    """It is rounded up: 281.521 is told as 281.53."""
    cable = replace(brake.cables.cables[0], inner_to_cut=281.521)
    now = replace(brake, cables=replace(brake.cables, cables=(cable,)))
    was = replace(now, cables=replace(brake.cables, cables=(replace(cable, inner_to_cut=None),)))
    assert "to cut at least: none → 281.53 mm" in words(compare_blocks(compare(was, now, shrank_mm=0.5)))


def test_a_record_of_an_older_version_makes_no_cable_new(brake):
    assert not changes(replace(brake, cables=None), brake)
    assert not changes(brake, replace(brake, cables=None))


def test_no_time_left_is_told(brake, monkeypatch):
    def late(*_):
        raise TimeLimitError("it is late")

    machine = read(bars_text(f"[cables.brake]\nruns = [{{ through = [{ENDS}] }}]\n"))
    with monkeypatch.context() as patched:
        patched.setattr("assembly.api.swept_figures.cables_entry", late)
        record = swept(machine)
    assert record.cables is None
    assert "there was no time left for what a sweep tells of cables" in words(sweep_blocks(record))
