"""Measures where results are told: the sweep's verdict, comparisons, nights, variants, and the command."""

import json
from dataclasses import replace

import numpy as np
import pytest
from measure_machines import arm, arm_text, read

import assembly
from assembly.cli import main
from assembly.history import compare
from assembly.record import json_text
from assembly.report.charts.trends import trend_panels
from assembly.report.export.junit import CheckedFile, junit_text
from assembly.report.page.table_rows import measure_table
from assembly.report.text.compare_text import compare_blocks
from assembly.report.text.headline import headline
from assembly.report.text.layout import Line, Table
from assembly.report.text.measures_along import track_blocks
from assembly.report.text.one_screen import one_screen
from assembly.report.text.pose_text import pose_blocks
from assembly.report.text.range_text import rules_text
from assembly.report.text.variants_text import variants_blocks

LIMITED = """
[measures.gone]
distance = [{{ on = "arm", at = "tip" }}, {{ on = "post", at = "tip" }}]
most = {most}
[measures.y]
coordinate = {{ on = "arm", at = "tip" }}
along = [0, 1, 0]
"""


@pytest.fixture(scope="module")
def swept():
    """The records of an arm of which the tip goes 100 mm, and may go 99 or 101."""
    return {
        most: assembly.sweep(arm(LIMITED.format(most=most)), effort=assembly.Effort(cores=1), cached=False).record
        for most in (99, 101)
    }


def test_a_measure_beyond_its_limit_fails_the_machine(swept):
    assert (swept[99].verdict, swept[101].verdict) == ("fails", "clear")
    assert swept[99].reason == "measures beyond their limits: gone"
    told = "\n".join(line.text for line in headline(swept[99]))
    assert "FAILS: gone is 100.00 mm at swing" in told
    assert "1.00 mm more than the 99 mm that it may be" in told
    assert json.loads(json_text(swept[99]))["measures"][0]["name"] == "gone"


def test_a_comparison_tells_measures_by_their_limits_and_by_what_they_come_to(swept):
    found = compare(swept[101], swept[99], shrank_mm=0.5)
    assert [(one.name, one.motion, one.turn) for one in found.joints] == [("gone", "most", "fails")]
    assert found.worse
    moved = replace(swept[99].measures[1], most=80.0)
    other = compare(swept[99], replace(swept[99], measures=(swept[99].measures[0], moved)), shrank_mm=0.5)
    assert [(one.name, round(one.before.most, 1), one.now.most) for one in other.measures] == [("y", 86.6, 80.0)]
    told = "\n".join(block.text for block in compare_blocks(other) if isinstance(block, Line))
    assert "y: −86.60 to 86.60 mm (0.00 mm with all drives at 0), now −86.60 to 80.00 mm" in told


def test_cases_of_a_night_are_told_limit_by_limit(swept):
    text = junit_text([CheckedFile("arm.toml", swept[99], (), 1.0), CheckedFile("long.toml", swept[101], (), 1.0)])
    assert text.count("<failure") == 1
    case, kept = (text.split('name="measure gone: most"')[number] for number in (1, 2))
    assert case.split("<failure")[1].startswith(' message="gone is 100.00 mm at swing')
    assert "<failure" not in kept


def test_variants_have_a_column_for_every_measure():
    machine = read(arm_text(LIMITED.format(most=99)).replace("[100, 0, 0]\n[parts", '["arm", 0, 0]\n[parts'))
    found = assembly.variants(machine, "arm=90,100", stops=False, cores=1)
    rows = [(row["arm"], round(row["gone most (mm)"], 2), row["verdict"]) for row in found.to_dicts()]
    assert rows == [(100, 100, "fails"), (90, 90, "clear")]
    (table,) = [block for block in variants_blocks(found.record, "") if isinstance(block, Table)]
    told = "\n".join(" ".join(row) for row in table.rows)
    assert "0.00 to 90.00 mm" in told


def test_the_command_tells_all_on_one_screen(tmp_path, capsys):
    file = tmp_path / "arm.toml"
    file.write_text(f"format = 1\n{arm_text(LIMITED.format(most=99))}")
    assert main(["measures", str(file)]) == 1
    said = capsys.readouterr().out
    assert "FAILS: gone is 100.00 mm at swing −60°, 1.00 mm more than the 99 mm that it may be" in said
    assert "  gone FAILS" in said
    assert main(["measures", str(file), "--json"]) == 1
    record = json.loads(capsys.readouterr().out)
    assert [one["name"] for one in record["measures"]] == ["gone", "y"]
    file.write_text(f"format = 1\n{arm_text('')}")
    assert main(["measures", str(file)]) == 2
    assert "the file has no measures; write one, such as [measures.NAME]" in capsys.readouterr().err


def test_the_usable_range_ends_where_a_measure_reaches_its_limit():
    """Closed form: the tip is 2 · 100 · sin(swing / 2) mm away, which is 99 mm at 59.336 degrees."""
    record = assembly.usable_range(arm(LIMITED.format(most=99)), cores=1)
    (governor,) = [one for one in record.governors if one.rules and one.rules[0].kind == "measure"]
    assert governor.rules[0].joint == "gone"
    end = np.degrees(2 * np.arcsin(0.495))
    ends = sorted(at for stretch in record.stretches if stretch.governor == governor.number for at in stretch.points)
    assert [abs(at[0]) for at in ends] == pytest.approx([end, end], abs=0.06)
    assert "gone (a measure) beyond +99 mm" in rules_text(governor)
    assert not record.fits


CURVES = """
[measures.turn]
angle = [{ on = "ground", along = [1, 0, 0] }, { on = "arm", line = ["hinge", "tip"] }]
about = [0, 0, 1]
[measures.y]
coordinate = { on = "arm", at = "tip" }
along = [0, 1, 0]
"""


MANY = "".join(f"[measures.y{k}]\ncoordinate = {{ on = 'arm', at = 'tip' }}\nalong = [0, 1, 0]\n" for k in range(6))


def test_many_measures_along_a_drive_fit_the_screen_those_with_limits_first():
    """Ten rows of five lines each told nothing: four measures stand beside each other, the others are counted."""
    made = assembly.measures(arm(MANY + LIMITED.format(most=99), -20, 20), along="swing", steps=30)
    first, rest = (block for block in track_blocks(made, made.track) if isinstance(block, Table))
    assert first.columns == ("swing", "gone", "y0", "y1", "y2")
    assert rest.columns == ("swing", "y3", "y4", "y5", "y")
    told = list(one_screen(track_blocks(made, made.track)))
    assert [block.columns for block in told if isinstance(block, Table)] == [first.columns]
    assert any(
        "4 more measures along swing, in measures.csv" in block.text for block in told if isinstance(block, Line)
    )


def test_measures_along_a_drive_are_those_of_each_setting():
    """Closed form; an angle about a line counts on over whole turns, though the settings told lie half a turn apart."""
    track = assembly.measures(arm(CURVES, -540, 540), along="swing", steps=7).track
    at = [one["swing"] for one in track.at]
    assert at == pytest.approx([-540, -360, -180, 0, 180, 360, 540])
    assert track.values["turn"] == pytest.approx(at)
    track = assembly.measures(arm(CURVES), along=("swing",), steps=4).track
    assert [one["swing"] for one in track.at] == pytest.approx([-60, -20, 0, 20, 60])
    assert track.values["y"] == pytest.approx([100 * np.sin(np.radians(one["swing"])) for one in track.at])


TWO_ARMS = """
[parts.hand]
shapes = [{ box = [200, 0, 0], size = [4, 4, 4] }]
[joints.wrist]
pin = ["arm", "hand"]
at = "tip"
along = [0, 0, 1]
[drives.bend]
turns = { wrist = 1 }
range = [-30, 45]
[measures.turn]
angle = [{ on = "ground", along = [1, 0, 0] }, { on = "hand", line = ["tip", [200, 0, 0]] }]
about = [0, 0, 1]
most = 90
"""


def test_two_drives_make_a_table_and_a_picture_for_each_measure(tmp_path, capsys):
    """Closed form: the hand turns by both drives together."""
    file = tmp_path / "two.toml"
    file.write_text(f"format = 1\n{arm_text(TWO_ARMS)}")
    asked = ["measures", str(file), "--along", "swing", "--along", "bend", "--grid", "3", "--out", str(tmp_path)]
    assert main(asked) == 1
    said = capsys.readouterr().out
    assert "turn along swing (down) and bend (across)" in said
    assert [line.split() for line in said.splitlines() if line.lstrip().startswith("swing ")] == [
        ["swing", "−30°", "0°", "+7.5°", "+45°"]
    ]
    assert [line.split()[1:] for line in said.splitlines() if line.lstrip().startswith("+60°")] == [
        ["30.00°", "60.00°", "67.50°", "105.00°"]
    ]
    rows = (tmp_path / "measures.csv").read_text(encoding="utf-8-sig").splitlines()
    assert rows[0] == "swing (deg),bend (deg),turn (deg)"
    assert "60,45,105" in rows
    assert (tmp_path / "measures.png").stat().st_size > 10_000
    assert main([*asked[:2], "--csv", "--out", str(tmp_path)]) == 1
    assert (tmp_path / "measures.csv").read_text(encoding="utf-8-sig").startswith("measure,unit,verdict,at 0,least,")


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--along", "sving"], "there is no drive `sving`; the nearest of the drives is `swing`"),
        (["--along", "swing", "--set", "swing=3"], "drive `swing` is held and moved at once"),
        (["--along", "swing", "--along", "swing"], "along one or two different drives"),
        (["--set", "swing=3"], "drives are held along no drive"),
    ],
)
def test_curves_along_what_is_not_there_are_refused(options, told, tmp_path, capsys):
    file = tmp_path / "arm.toml"
    file.write_text(f"format = 1\n{arm_text(CURVES)}")
    assert main(["measures", str(file), *options, "--out", str(tmp_path)]) == 2
    assert told in capsys.readouterr().err


def test_the_page_has_a_table_of_measures(swept):
    table = measure_table(swept[99])
    assert [row.cells[0] for row in table.rows] == ["gone FAILS", "y"]
    assert table.rows[0].setting in ((-60.0,), (60.0,))


def test_one_setting_has_its_measures_with_the_turns_made_on_the_way():
    """Closed form: at 400 degrees the arm has turned by 400 degrees, 10 more than the limit; the tip is 64.28 up."""
    limited = CURVES.replace("about = [0, 0, 1]", "about = [0, 0, 1]\nmost = 390")
    record = assembly.pose(arm(limited, -540, 540), {"swing": 400})
    turn, y = record.measures
    assert (turn.value, turn.verdict) == (pytest.approx(400), "fails")
    assert (y.value, y.verdict) == (pytest.approx(100 * np.sin(np.radians(40))), None)
    assert record.verdict == "fails"
    lines = [line.text for line in pose_blocks(record) if isinstance(line, Line)]
    assert "FAILS: turn is 400.00°; it may be ≤ 390°" in lines
    assert assembly.pose(arm(limited, -540, 540), {"swing": 380}).verdict == "clear"


def test_trends_follow_the_margins_of_measures(swept):
    lines = trend_panels([swept[101], swept[99]])[1].lines
    assert [(line.label, line.now) for line in lines] == [("gone, most", "−1.0 mm margin to 99 mm (was 1.0 mm)")]
    assert lines[0].values == pytest.approx((100 / 101, -100 / 99), abs=1e-3)
