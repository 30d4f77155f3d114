"""What a sweep tells besides pairs of cables, rods and wheels: in its record, its report, its page and comparisons."""

from dataclasses import replace
from math import asin, ceil, cos, degrees, exp, radians, sqrt

import pytest
from cable_machines import ENDS, OVER_THE_PIN, bars_text, hinged
from records import pair, record
from rod_threads import M8, RACK, lever, longer, rod_table
from small_machines import quiet, read
from wheel_machines import parallelogram_text
from wheel_machines import read as read_wheels

import assembly
from assembly.api import swept_figures
from assembly.api.swept_figures import with_figures
from assembly.cache.sqlite_cache import open_memory
from assembly.errors import InputError, TimeLimitError
from assembly.history import compare
from assembly.kinematics.assembling import assemble
from assembly.record import DriveEntry, MeasureTrack, json_text, record_of
from assembly.report.page import Page, page_html
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.layout import Table
from assembly.report.text.sweep_text import sweep_blocks
from assembly.studies.rods.rods_study import rods_turned
from assembly.studies.rods.turning import with_longer
from assembly.studies.shared import drive_entries
from assembly.studies.sweep.whole_sweep import sweep_machine
from assembly.studies.wheels.wheels_study import WheelWish, wheel_tables

QUICK = assembly.Effort(decide_only=True, cores=1)


def words(blocks):
    """Lines, headings and rows of a report, one below the other."""
    told = []
    for block in blocks:
        told += [" ".join(row) for row in block.rows] if isinstance(block, Table) else [block.text]
    return "\n".join(told)


def page_of(record):
    page = page_html(Page(record, None, "swingroom sweep m.toml", no_change="No earlier run was kept."))
    return page.replace("<wbr>", "")  # where names may break


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
    for one, told in ((brake, "brake inner"), (hoses, "beam to hose_a"), (hoses, "What the slack hoses of hose_a")):
        assert told in words(sweep_blocks(one))
        assert told in page_of(one)
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
        found = swept(machine)
    assert found.cables is None
    assert "there was no time left for what a sweep tells of cables" in words(sweep_blocks(found))


WANTED = RACK.replace("[road]\n", "[road]\ntoe_wanted = 1.5\n")


@pytest.fixture(scope="module")
def rack():
    """Two rods of a steered pair of wheels that is to have 1.5 mm of toe-in, swept."""
    return swept(read(WANTED))


def test_a_sweep_tells_turns_to_the_toe_that_is_wanted(rack):
    """Closed form: 1.5 mm toe-in is 0.2459 mm on each rod, 0.0984 turns of M8 with two hands."""
    (way,) = rack.rods_turned.ways
    assert way.turns == pytest.approx(longer(1.5) / 2.5, abs=1e-6)
    assert (way.wanted, way.also) == (1.5, ("rod_right",))
    assert [one.rod for one in rack.rods_turned.turns] == ["rod_left"]
    assert rack.wheels.toe_wanted == 1.5
    for told in (words(sweep_blocks(rack)), page_of(rack)):
        assert "Turns of rod_left and rod_right for the total toe of 1.5 mm that the file wants" in told
        assert "0.10 turns of the tube (0.6 flats) clockwise" in told
        assert "+1.50 mm are wanted" in told


def turned(rack, text):
    """The record of the rack with what turning the rods of ``text`` does."""
    return replace(rack, rods_turned=rods_turned(assemble(read(text))))


def test_a_file_that_wants_no_toe_is_told_the_turns_of_one_millimetre(rack):
    """Closed form: on an arm at 90 degrees 1 mm is 0.1639 mm on each rod; as of now the toe is 0."""
    found = turned(rack, RACK)
    (way,) = found.rods_turned.ways
    assert way.turns == pytest.approx(longer(1.0) / 2.5, abs=1e-6)
    assert "Turns of rod_left and rod_right for 1 mm more of toe-in than today" in words(sweep_blocks(found))


def test_a_comparison_tells_what_a_turn_does_now(rack):
    """Closed form: 2.5 mm on an arm of 100 turn it by a sine of 0.025, on one of 80 by 0.03125; rims of 305."""
    shorter = turned(rack, WANTED.replace("[-100", "[-80"))
    found = changes(rack, shorter)
    toe = found["a turn of rod_left adds to wheel_left and wheel_right total toe mm"]
    assert (toe.before, toe.now) == pytest.approx((305 * 0.025, 305 * 0.03125), abs=0.001)
    turns = found["rod_left and rod_right for the toe that is wanted"]
    assert (turns.unit, turns.before) == ("turns", pytest.approx(longer(1.5) / 2.5, abs=1e-6))
    assert {one.about for one in found.values()} == {"rods"}
    told = words(compare_blocks(compare(rack, shorter, shrank_mm=0.5)))
    assert next(iter(found)) == "rod_left and rod_right for the toe that is wanted"
    assert "What turning rods does, with all drives at 0 or where toe is set" in told
    assert "for the toe that is wanted: 0.10 turns → 0.08 turns" in told
    assert not changes(shorter, shorter)


def test_a_toe_that_no_length_makes_is_told_and_does_not_end_the_sweep(rack):
    found = turned(rack, WANTED.replace("toe_wanted = 1.5", "toe_wanted = 700"))
    assert found.rods_turned.ways == ()
    assert "turns for another toe are not known: no length of `rod_left` brings" in words(sweep_blocks(found))


def test_what_is_turned_by_less_than_a_hundredth_is_as_it_should_be(rack):
    told = words(sweep_blocks(turned(rack, WANTED.replace("toe_wanted = 1.5", "toe_wanted = 0.05"))))
    assert "nothing to turn, it is less than a hundredth of a turn; " in told
    assert "total toe mm is 0.00 mm today" in told


def test_a_rod_of_a_machine_without_wheels_has_turns_and_no_toe():
    """Closed form: half a turn of an end of M8 is 0.625 mm."""
    found = rods_turned(assemble(read(lever(rod_table(M8, M8)))))
    assert [step.mm for step in found.turns[0].steps] == [0.625]
    assert (found.ways, found.why) == ((), "")


def test_a_toe_is_wanted_of_a_pair_only():
    one_side = WANTED.replace('[mirror]\nleft = "right"\n', "")
    with pytest.raises(InputError, match="no left and right wheel make a pair whose toe could be set"):
        read(one_side)


def front(text):
    """What a sweep tells of the wheels of a machine, in a record made by hand."""
    return record(pair("a", "b", 2.0), drives=drive_entries(text), wheels=wheel_tables(assemble(text), WheelWish()))


@pytest.fixture(scope="module")
def leaning():
    return front(read_wheels(parallelogram_text()))


def test_a_comparison_tells_the_lean_that_a_protractor_shows_at_the_stop(leaning):
    """Closed form: beams as long as each other lean the frame as far as they turn; the stop went from 25 to 20."""
    now = front(read_wheels(parallelogram_text().replace("25, 25", "20, 20")))
    found = changes(leaning, now)
    for end, sign in (("low", 1), ("high", -1)):
        one = found[f"lean of the frame, as a protractor shows it, tilt at its {end} end"]
        assert (one.before, one.now) == pytest.approx((25 * sign, 20 * sign), abs=1e-6)
    assert {one.about for one in found.values()} == {"wheels"}
    assert "tilt at its high end: −25.00° → −20.00°" in words(compare_blocks(compare(leaning, now, shrank_mm=0.5)))


def test_a_comparison_has_toe_over_the_settings_that_both_runs_looked_at():
    """Closed form: beams of 200 for kingpins of 200 keep both toes 0; a rod 2.5 mm longer turns by a sine of 0.025."""
    machine = read(RACK)
    before, longer_rod = front(machine), with_longer(machine, machine.rods["rod_left"], 2.5)
    now = replace(before, wheels=wheel_tables(longer_rod, WheelWish()))
    found = compare(before, now, shrank_mm=0.5)
    toe = [one for one in found.figures if one.name == "wheel_left toe"]
    assert [one.at["rack"] for one in toe] == [-3, -1.5, 0, 1.5, 3]
    assert toe[2].now - toe[2].before == pytest.approx(degrees(asin(0.025)), abs=0.001)
    assert not any(one.name == "wheel_right toe" for one in found.figures)
    told = words(compare_blocks(found))
    assert "wheel_left toe: another at 5 of 5 settings, most at rack" in told
    assert "0 mm 0.00→+1.43" in told
    fewer = replace(now, wheels=replace(now.wheels, track=replace(now.wheels.track, at=now.wheels.track.at[2:])))
    values = {name: each[2:] for name, each in now.wheels.track.values.items()}
    fewer = replace(fewer, wheels=replace(fewer.wheels, track=replace(fewer.wheels.track, values=values)))
    found = compare(before, fewer, shrank_mm=0.5)
    assert [one.at["rack"] for one in found.figures if one.name == "wheel_left toe"] == [0, 1.5, 3]


def test_in_a_table_over_two_drives_only_what_is_another_has_both_figures(leaning):
    """By hand: one of four toes is 0.03 degrees more, which shows where two digits after the point are told."""
    at = tuple({"lean": lean, "steer": steer} for lean in (-10.0, 0.0) for steer in (0.0, 20.0))
    told = leaning.wheels
    names = [f"{side} {word}" for side in ("wheel_left", "wheel_right") for word in ("toe", "camber")]
    flat = dict.fromkeys([*names, *(f"wheel_left and wheel_right {w}" for w in ("total toe", "steered"))], (0.0,) * 4)
    sides = []
    for values in ((0.0, -20.01, 0.5, -21.0), (0.0, -19.98, 0.5, -21.0)):
        track = MeasureTrack(("lean", "steer"), {}, at, {**flat, "wheel_left toe": values})
        drives = {name: DriveEntry(-30.0, 30.0, "deg") for name in ("lean", "steer")}
        sides.append(record(pair("a", "b", 2.0), drives=drives, wheels=replace(told, track=track)))
    *_, table = (one for one in compare_blocks(compare(*sides, shrank_mm=0.5)) if isinstance(one, Table))
    assert table.columns == ("lean", "0°", "+20°")
    assert table.rows == (("−10°", "0.00", "−20.01→−19.98"), ("0°", "+0.50", "−21.0"))


def test_wheels_that_one_run_does_not_tell_are_not_new(leaning):
    assert not changes(replace(leaning, wheels=None), leaning)
    assert not changes(leaning, leaning)


BRAKED = (
    RACK.replace("[road]\n", "[road]\ntoe_wanted = 1.5\n")
    + """
[cables.brake]
runs = [{ through = [{ on = "frame", at = [0, 0, 0] }, { on = "upright_left", at = [-60, 300, 200] }] }]
"""
)


@pytest.fixture(scope="module")
def braked():
    """The rack with a cable to one wheel: what a sweep found of it."""
    machine = read(BRAKED)
    return sweep_machine(machine, QUICK, quiet, advise=False)[1]


@pytest.mark.parametrize(
    ("old", "new", "anew"),
    [
        ("[0, 400, 200], size = [6, 6, 6]", "[0, 400, 200], size = [6, 6, 7]", set()),
        ("toe_wanted = 1.5", "toe_wanted = 1.6", {"rods_turned"}),
        ("tube_length = 200", "tube_length = 201", {"rods_turned"}),
        ("[-60, 300, 200]", "[-60, 301, 200]", {"cables_entry", "rods_turned"}),
        ("range = [-3, 3]", "range = [-3, 2]", {"cables_entry", "rods_turned"}),
    ],
)
def test_what_hangs_on_no_solid_is_known_after_an_edit_of_one(braked, tmp_path, monkeypatch, old, new, anew):
    """Made anew where anything but a solid is another; what is known is what would be found, to the last bit."""
    made = set()

    def noted(name, function):
        return lambda *given: made.add(name) or function(*given)

    edited = assemble(read(BRAKED.replace(old, new)))
    assert BRAKED.count(old) == 1
    with open_memory(tmp_path / "known.sqlite3", print) as memory:
        with_figures(braked, assemble(read(BRAKED)), memory)
        for name in ("cables_entry", "rods_turned"):
            monkeypatch.setattr(swept_figures, name, noted(name, getattr(swept_figures, name)))
        after = with_figures(braked, edited, memory)
    assert made == anew
    if not anew:
        found = with_figures(braked, edited, None)
        assert (after.cables, after.rods_turned) == (found.cables, found.rods_turned)
