"""``swingroom helps``: what each number does, and numbers that were swept before they are offered."""

import io
import json
import sys
from dataclasses import replace
from pathlib import Path

import pytest
from clocks import Clock
from small_machines import read, slider

import assembly
from assembly.api.what_helps import help_for_first
from assembly.clearance.proof.sweep import STOPPED_BY_HAND
from assembly.cli import ExitStatus, main
from assembly.errors import TimeLimitError
from assembly.progress import no_progress
from assembly.report.text.help_text import help_blocks
from assembly.report.text.number_effects import help_caution, help_lines
from assembly.report.text.terminal import write
from assembly.report.text.watch_text import slope_lines
from assembly.studies import sensitivity
from assembly.time_limit import time_limit

FILE = """
format = 1
name = "Stop block"
[dimensions]
post_y = 30
nose = 20
idle = 7
shift = 0
[parts.base]
fixed = true
shapes = [{ name = "post", box = [0, "post_y + 10", 0], size = [20, 20, 20] }]
[parts.wall]
fixed = true
shapes = [{ name = "wall", box = [0, -29, 0], size = [20, 10, 20] }]
[parts.sledge]
shapes = [{ name = "nose", box = [0, "nose / 2 - 10 + shift", 0], size = [20, "nose", 20] }]
[joints.guide]
slide = ["base", "sledge"]
at = [0, 0, 0]
along = [0, 1, 0]
limit = [-9, 20]
[drives.push]
slides = { guide = 1 }
range = [-8, 18]
[clearance]
required = REQUIRED
"""


@pytest.fixture
def file(tmp_path):
    def written(required=5):
        path = tmp_path / "block.toml"
        path.write_text(FILE.replace("REQUIRED", str(required)), encoding="utf-8")
        return path

    return written


@pytest.fixture(scope="module")
def record(tmp_path_factory):
    """What helps the machine as it is, asked once."""
    path = tmp_path_factory.mktemp("helps") / "block.toml"
    path.write_text(FILE.replace("REQUIRED", "5"), encoding="utf-8")
    return assembly.what_helps(assembly.load(path))


def test_numbers_that_give_the_room_are_swept_and_told_with_what_they_cost(record):
    """Closed form: the nose ends at nose - 10 + 18, so the post is post_y - nose - 8 away at the end: 2 for 5."""
    assert (record.verdict, record.asked, record.wanted_mm) == ("fails", ("base", "sledge"), 5.0)
    pair = next(one for one in record.figures if one.names == record.asked)
    assert pair.room == pytest.approx(-3.0, abs=1e-6)
    slopes = {slope.number: (slope.up, slope.down) for slope in pair.places[0].slopes}
    wanted = {"post_y": 1.0, "nose": -1.0, "shift": -1.0}
    assert slopes == {name: pytest.approx((slope, slope)) for name, slope in wanted.items()}
    found = {one.number: one for one in record.answers}
    assert set(found) == {"post_y", "nose"}
    assert found["post_y"].after == pytest.approx(33.0, abs=0.06)
    assert found["nose"].after == pytest.approx(17.0, abs=0.06)
    for one in record.answers:
        assert one.verdict == "clear"
        assert 5.0 <= one.proven_mm <= one.least_mm <= 5.1
    assert {one.name: one.moves for one in record.numbers}["idle"] == 0


def test_slopes_are_told_as_what_would_help_and_never_as_advice(file):
    """Closed form, as above: 1 more of post_y or 1 less of nose or shift is 1 mm of clearance; `idle` gives none."""
    swept = assembly.sweep(assembly.load(file()))
    found = help_for_first(swept, 1, no_progress)
    (figure,) = found.figures
    numbers = {one.name: one for one in found.numbers}
    assert set(help_lines(figure, numbers)) == {
        "1 more of post_y (now 30) gives +1.00 mm",
        "1 less of nose (now 20) gives +1.00 mm",
        "1 less of shift (now 0) gives +1.00 mm",
    }
    assert len(help_lines(figure, numbers, most=2)) == 2
    caution = help_caution(figure, "block.toml")
    assert "not swept: no advice yet" in caution
    assert "`swingroom helps block.toml --pair base sledge` sweeps" in caution
    said = [line.text for line in slope_lines(found, "swingroom sweep block.toml")]
    assert said[0] == "what would help base – sledge:"
    assert said[-1] == caution


def test_where_no_number_bears_on_a_pair_it_is_told_how_to_give_one():
    """A file without any number of its own."""
    found = help_for_first(assembly.sweep(read(slider(high=9.5))), 1, no_progress)
    assert found.numbers == ()
    told = help_lines(found.figures[0], {})
    assert told == ("no number of the file does: give what bears on it a name in [dimensions] and use it there",)


def test_a_number_that_breaks_another_rule_is_no_answer(record):
    """Closed form: the wall is 6 away at the other end; 3 further back the nose has 3 of the 5 that are required."""
    assert {one.number: one.why for one in record.no_answers} == {"shift": "at -3.01 wall – sledge fails"}


def test_a_number_that_helps_until_another_place_governs_is_no_answer(file):
    """The pair keeps 6 from the wall once that is one part with the post: no post_y gives it more."""
    text = file().read_text(encoding="utf-8")
    own, path = "}]\n[parts.wall]\nfixed = true\nshapes = [{", file()
    assert own in text
    whole = text.replace(own, "}, {")
    path.write_text(whole, encoding="utf-8")
    record = assembly.what_helps(assembly.load(path), ("base", "sledge"), wanted=8.0, most=1)
    assert record.answers == ()
    assert record.no_answers[0].why.startswith("it helps at first and then no more: at ")


def test_the_report_fits_one_screen_and_says_what_to_do(record):
    stream = io.StringIO()
    write(help_blocks(record, "swingroom sweep block.toml"), stream)
    out = stream.getvalue()
    assert out.startswith("FAILS: base (post) to sledge (nose) 2.00 mm at push +18 mm; 5 mm is required")
    assert "To keep 5 mm there, any one of these; each was swept over the whole range" in out
    assert "shift: at −3.01 wall – sledge fails" in out
    assert "- write one of these numbers into block.toml, then run swingroom sweep block.toml" in out
    assert len(out.splitlines()) <= 24


def test_where_the_machine_fails_with_every_answer_the_next_command_is_named(record):
    """One number clears the pair asked about, another pair still fails (the record's verdicts, changed by hand)."""

    def told(answers):
        stream = io.StringIO()
        write(help_blocks(replace(record, answers=answers), "swingroom sweep block.toml"), stream)
        return " ".join(stream.getvalue().split())

    failing = tuple(replace(one, verdict="fails") for one in record.answers)
    step = "the machine fails with each of them; several at once: swingroom propose block.toml"
    assert step in told(failing)
    assert step not in told((*failing, replace(failing[0], verdict="clear")))


def test_a_pair_that_is_not_proven_to_keep_what_is_required_is_not_told_to_be_fine(file, capsys):
    """It comes to exactly the 2 mm that are required: no proof closes on that, and 0.01 mm more is an answer."""
    assert main(["helps", str(file(2)), "--json"]) == 3
    told = json.loads(capsys.readouterr().out)
    pair = next(one for one in told["figures"] if one["names"] == told["asked"])
    assert (told["asked"], pair["verdict"], told["wanted_mm"]) == (["base", "sledge"], "undecided", 2.0)
    assert told["reason"] == "1 of 3 pairs is not proven: it comes to 2.00 mm, hardly more than is required"
    assert 1.9 < pair["proven_mm"] < 2.0
    found = {one["number"]: one for one in told["answers"]}
    assert 30 < found["post_y"]["after"] < 30.2
    assert found["post_y"]["proven_mm"] >= 2.0


def stopped_by_hand(real):
    """A check whose sweep Ctrl-C cut short."""

    def check(*given, **named):
        found = real(*given, **named)
        return replace(found, swept=replace(found.swept, stopped=STOPPED_BY_HAND))

    return check


def test_a_sweep_that_is_stopped_by_hand_ends_the_question(file, capsys, monkeypatch):
    """Before the numbers are tried, and while one is: nothing that was cut short is taken for an answer."""
    for module in ("assembly.api.answers", "assembly.studies.sweep.whole_sweep"):
        with monkeypatch.context() as patch:
            patch.setattr(f"{module}.check", stopped_by_hand(sys.modules[module].check))
            assert main(["helps", str(file())]) == ExitStatus.INTERRUPTED
        said = capsys.readouterr()
        assert said.out == ""
        assert "stopped by hand; no file is half written" in said.err


def test_what_one_number_does_everywhere(file, capsys):
    assert main(["helps", str(file(1)), "--change", "post_y"]) == 0
    out = capsys.readouterr().out
    assert "post_y is 30: it bears on 1 of 3 figures" in out
    assert "base – sledge" in out


def test_what_a_joint_keeps_of_its_limit(file, capsys):
    """The slide goes from -8 to 18 within -9 and 20; it is drawn 1 short of the nearer limit."""
    assert main(["helps", str(file()), "--joint", "guide"]) == 1
    first, second, *_ = capsys.readouterr().out.splitlines()
    assert first == "CLEAR: guide (travel) keeps 1.00 mm of its limit at push −8 mm"
    assert second.startswith("the machine as a whole: FAILS: ")


def test_a_number_on_which_nothing_depends_is_said_to_do_nothing(file, capsys):
    assert main(["helps", str(file(1)), "--change", "idle"]) == 0
    assert "idle is 7: no figure that has a rule depends on it" in capsys.readouterr().out


def test_a_machine_without_numbers_to_change_is_told_so(tmp_path, capsys):
    """It once broke the program off."""
    path = tmp_path / "slider.toml"
    path.write_text(slider(required=50), encoding="utf-8")
    assert main(["helps", str(path), "--cores", "1"]) == ExitStatus.FAILS
    out = capsys.readouterr().out
    assert "only what is written into shapes, joints and ranges themselves bears on it" in out
    assert "give what bears on it a name in [dimensions]" in out
    assert "--change" not in out
    assert "0 numbers" not in out


def test_where_no_number_bears_on_a_clear_pair_none_is_offered_to_be_tried(tmp_path, capsys):
    path = tmp_path / "slider.toml"
    path.write_text(slider(), encoding="utf-8")
    assert main(["helps", str(path), "--cores", "1"]) == ExitStatus.CLEAR
    out = capsys.readouterr().out
    assert "give what bears on it a name in [dimensions]" in out
    assert "--to MM" not in out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--change", "post_x"], "there is no dimension, point coordinate or set length `post_x`"),
        (["--pair", "base", "sled"], "no part `sled`"),
        (["--joint", "guid"], "there is no joint `guid`; the nearest of the joints is `guide`"),
        (["--pair", "base", "base"], "base"),
        (["--to", "-3"], "is not a number, 0 or more"),
        (["--to", "4"], "the file requires 5 mm of `base` and `sledge`"),
        (
            ["--pair", "base", "sledge", "--joint", "guide"],
            "--joint and --pair are asked for at once; give one of them",
        ),
        (["--change", "nose", "--to", "6"], "--change and --to are asked for at once; give one of them"),
        (["--joint", "guide", "--to", "6"], "--joint and --to are asked for at once; give one of them"),
    ],
)
def test_what_is_not_there_is_one_clear_line(file, capsys, arguments, told):
    assert main(["helps", str(file()), *arguments]) == 2
    (line,) = [line for line in capsys.readouterr().err.splitlines() if told in line]
    assert line


def test_the_record_is_json(file, capsys):
    assert main(["helps", str(file(1)), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["figures"][0]["places"][0]["slopes"]
    assert told["answers"] == []


def test_the_guide_shows_what_the_command_says(tmp_path, monkeypatch, capsys):
    guide = (Path(assembly.__file__).parent.parent / "README.md").read_text(encoding="utf-8")
    section = guide.split("### What would help\n")[1]
    shown = section.split("```text\n")[1].split("```")[0]
    command = "swingroom helps my_machine/my_machine.toml --pair rod frame"
    assert f"`{command}` says:" in section
    monkeypatch.chdir(tmp_path)
    assert main(["new", "my_machine"]) == 0
    capsys.readouterr()
    assert main(command.split()[1:]) == 0
    assert capsys.readouterr().out.startswith(shown)


def test_the_time_limit_is_looked_at_before_each_number_that_is_altered(file, monkeypatch):
    """The trike's file was read for each of its numbers after the time was over: 7.7 s with a limit of 5."""
    clock, altered = Clock(), []
    change_of = sensitivity.change_of

    def slow(*given):
        clock.now += 1.0
        altered.append(given[-1].name)
        return change_of(*given)

    swept = assembly.sweep(assembly.load(file()), cached=False)
    monkeypatch.setattr(sensitivity, "change_of", slow)
    help_for_first(swept, 1, no_progress)
    every, altered[:] = len(altered), []
    assert every > 3
    with time_limit(2.5, clock), pytest.raises(TimeLimitError):
        help_for_first(swept, 1, no_progress)
    assert len(altered) == 3
