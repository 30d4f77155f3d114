"""``swingroom rods``, and what a sweep, its comparison and its page say of threads."""

import json
import re
from dataclasses import replace

import pytest
from rod_threads import M8, M8_LEFT, lever, rod_table
from small_machines import read

import assembly
from assembly.cli import main
from assembly.history import compare
from assembly.record import WeightEntry
from assembly.report.export.junit import CheckedFile, junit_text
from assembly.report.page import Page, page_html
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.one_screen import SCREEN_HEIGHT
from assembly.report.text.sweep_screen import sweep_screen
from assembly.report.text.sweep_text import sweep_blocks

NUT = 'lock_nut = "ISO 4035"'


def rod(*rules, tube=240.0):
    return lever(rod_table(f"{M8}, {NUT}", f"{M8_LEFT}, {NUT}", tube=tube, rules=rules))


@pytest.fixture
def said(tmp_path, capsys):
    """Exit status and text of the command on a file, words by single spaces."""

    def asked(text, *arguments):
        path = tmp_path / "lever.toml"
        path.write_text(text, encoding="utf-8")
        status = main(["rods", str(path), *arguments])
        out, err = capsys.readouterr()
        return status, " ".join(out.split()), err

    return asked


def test_one_screen_says_lengths_engagement_and_turns(said):
    """Closed forms: see test_rods."""
    status, told, _ = said(rod("1 d in steel"))
    assert status == 0
    for text in (
        "CLEAR: the rod keeps every rule of engagement that is picked",
        "rod: 300.00 mm from ball to ball, tube 240 mm",
        "least 282.00 mm (near: the thread is all in but for its lock nut)",
        "greatest 308.00 mm (near: 8 mm must be in (1 d in steel)); at 324.00 mm both threads leave the tube",
        "NOT captive at any length: a tube that turns loose leaves both ends together after 9.6 turns",
        "near M8×1.25 right 12.00 * 9.6 13.00 21.00",
        "CLEAR 1 d in steel 8 4.00 both",
        "clockwise, seen from near, makes it longer",
        "degrees of lever, all drives at 0 (+ is counter-clockwise seen from above)",
        "half a turn of the tube 1.250 −0.895 +0.895",
        "a flat (60°) of the tube 0.417 −0.298 +0.298",
        "half a turn of the end at near, unbolted 0.625 −0.448 +0.448",
        "turns to a length that is wanted, and back: swingroom rods",
    ):
        assert text in told, text


def test_an_answer_with_many_measures_fits_one_screen(tmp_path, capsys):
    """Of nine measures that a turn alters five are told, and no spanner; `--all` has them, and where rules are from."""
    lines = (f'{{ on = "{part}", along = [1, 0, 0] }}' for part in ("ground", "lever"))
    line = f"angle = [{', '.join(lines)}]\nabout = [0, 0, 1]\n"
    angles = [f"[measures.angle_{number}]\n{line}" for number in range(9)]
    path = tmp_path / "lever.toml"
    path.write_text(rod("1 d in steel") + "\n".join(angles), encoding="utf-8")
    told = {}
    for words in ((), ("--all",)):
        assert main(["rods", str(path), *words]) == 0
        told[words] = capsys.readouterr().out
    assert len(told[()].splitlines()) <= SCREEN_HEIGHT < len(told["--all",].splitlines())
    left = " ".join(told[()].split())
    assert re.search(
        r"Left out: where the rules are from; (\d+ steps?; )?[4-7] measures; .*how far spanners swing: `--all`", left
    )
    for text in ("angle_8", "Swing of an open spanner", "rule of thumb", "the tube turned clockwise"):
        assert text in told["--all",]
        assert text not in told[()]


def test_turns_to_a_length_and_back(said):
    _, told, _ = said(rod("1 d in steel"), "--length", "298.5")
    text = "to 298.5 mm, 1.5 mm shorter: 0.60 turns of the tube (3.6 flats) counter-clockwise, seen from near"
    assert text in told
    assert "then 12.75 mm and 12.75 mm are in; back: as much the other way" in told


def test_half_turns_that_do_not_come_to_a_length(said):
    """TC-05c: a window that half turns do not come to cannot be promised."""
    _, told, _ = said(lever(rod_table(M8, M8)), "--length", "301")
    assert "half turns of the unbolted end at near do not come to it: the nearest make 300.62 and 301.25 mm" in told


def test_a_rule_that_is_not_kept_fails_with_what_to_do(said):
    status, told, _ = said(rod("half the thread"))
    assert status == 1
    assert "FAILS half the thread 12.5 −0.50 both" in told
    assert "make the tube 1 mm longer, or the rod shorter by as much" in told
    assert told.endswith("FAILS: threads that do not keep their rule: rod")


def test_the_record_of_the_command_is_json(said):
    status, told, _ = said(rod(), "--json")
    assert status == 0
    assert json.loads(told)["rods"][0]["ends"][1]["hand"] == "left"


def test_bad_input_is_a_line_with_its_place(said):
    status, _, told = said(rod("1 d in steal"))
    assert status == 2
    assert "rods.rod.rules[0]: there is no rule of engagement `1 d in steal`" in told
    assert said(rod(), "--rod", "rad")[0] == 2


@pytest.fixture(scope="module")
def swept():
    """The machine with a rule that is kept, and with a shorter tube that breaks it."""
    effort = assembly.Effort(decide_only=True)
    tubes = (240.0, 231.0)
    return [assembly.sweep(read(rod("1 d in steel", tube=tube)), effort=effort).record for tube in tubes]


def test_a_rule_that_is_not_kept_fails_the_machine(swept):
    """Closed form: 240 mm of tube leave 12 mm in either end, 231 mm leave 7.5 of the 8 that must be."""
    kept, broken = swept
    assert (kept.verdict, broken.verdict) == ("clear", "fails")
    assert broken.reason == "threads that do not keep their rule: rod"
    assert [pair.verdict for pair in broken.pairs] == ["clear"] * len(broken.pairs)
    assert broken.threads[0].ends[0].rules[0].margin_mm == pytest.approx(-0.5)


def test_the_report_of_a_sweep_says_which_thread(swept):
    sentence = "rod has 7.50 mm of thread in at near; the rule `1 d in steel` asks for 8 mm"
    for blocks in (sweep_blocks, sweep_screen):
        assert f"FAILS: {sentence}" in [getattr(block, "text", "") for block in blocks(swept[1])]
    told = [getattr(block, "text", "") for block in sweep_blocks(swept[0])]
    assert "rod: CLEAR, 300.00 mm from ball to ball, 12.00 mm (M8×1.25) and 12.00 mm (M8×1.25) in" in told


def test_a_comparison_tells_what_is_in_less(swept):
    found = compare(*swept, shrank_mm=0.5, told=("before", "now"))
    assert found.worse
    told = [getattr(block, "text", "") for block in compare_blocks(found)]
    assert "rod threads: 4.00 mm more in than must be, now 0.50 mm less in than must be" in told
    back = compare(*reversed(swept), shrank_mm=0.5, told=("before", "now"))
    assert [change.turn for change in back.joints] == ["passes"]


def test_a_nights_cases_have_the_threads(swept):
    told = [junit_text([CheckedFile("lever.toml", record, (), 1.0)]) for record in swept]
    assert all("rod rod: threads" in text for text in told)
    assert ["asks for 8 mm" in text for text in told] == [False, True]


def test_the_page_has_threads_and_weights(swept):
    record = replace(swept[1], weight=WeightEntry(12.5, (0.0, 1.0, 2.0), {"frame": 10.0, "rod": 2.5}, ("bar",)))
    html = page_html(Page(record, None, "swingroom sweep lever.toml", no_change="No earlier run was kept."))
    shown = " ".join(re.sub(r"<[^>]*>", " ", html).split())
    assert "Rods that are screwed together: what is in of their threads" in shown
    assert "FAILS 1 d in steel 8 −0.50 both" in shown
    assert "Weights: 12.50 kg in all, its centre at [0.0, 1.0, 2.0] mm with all drives at 0, without bar" in shown
    assert "frame 10.00 rod 2.50" in shown
