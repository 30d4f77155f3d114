"""``swingroom propose``: what it says, its exit status, and one line for each thing that is asked wrongly."""

import json
from pathlib import Path

import pytest
from test_proposals import BLOCK

import assembly
from assembly.api.proposals.mapped_change import proposal_maps
from assembly.cli import ExitStatus, main
from assembly.progress import no_progress

ROOT = Path(assembly.__file__).parent.parent


@pytest.fixture
def file(tmp_path):
    def written(post="30", nose="20", idle="7"):
        text = BLOCK.replace("POST", post).replace("NOSE", nose).replace("SHIFT", "0").replace("WALL", "-29")
        text = text.replace("{ value = 7, may_be = [6, 8] }", idle)
        path = tmp_path / "block.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return written


def test_the_report_says_what_to_change_what_it_does_and_what_to_paste(file, capsys):
    path = file("{ value = 30, may_be = [28, 40] }  # the post", idle="{ value = 7, may_be = [6, 8] }")
    assert main(["propose", str(path)]) == ExitStatus.FAILS
    out = capsys.readouterr().out
    assert out.startswith("FAILS as it is: 1 of 3 pairs comes nearer than it may\n  base – sledge: 3.00 mm short of")
    assert "Proposal 1: post_y 30 to 33.01 (3.01 more)\n  CLEAR, swept over the whole range: all 3 pairs" in out
    assert "base – sledge: 2.00 mm today, then proven 5.00 mm (5 mm required)" in out
    assert "nothing near its limit gets worse" in out
    assert "line 4: post_y = { value = 33.01, may_be = [28, 40] }  # the post" in out
    assert "idle: nothing that is near its limit depends on it" in out
    assert "- write the line of one proposal over what stands in block.toml, then run swingroom" in out


def test_the_map_as_it_is_beside_that_of_the_proposal(file, tmp_path, capsys):
    """Closed form: at push s the nose is post_y - nose + 10 - s away; the last of 15 steps is at 18 - 26 / 30."""
    path = file("{ value = 30, may_be = [28, 40] }")
    assert main(["propose", str(path), "--map", "--out", str(tmp_path / "out"), "--most", "1"]) == ExitStatus.FAILS
    picture = tmp_path / "out" / "proposal_map.png"
    assert f"picture: {picture}" in " ".join(capsys.readouterr().out.split())
    assert picture.read_bytes()[:4] == b"\x89PNG"
    machine = assembly.load(path)
    record = assembly.propose(machine, most=1)
    today, then = proposal_maps(machine, record, no_progress, 1)
    (change,) = record.proposals[0].values
    assert today.least.least_mm == pytest.approx(2 + 26 / 30)
    assert then.least.least_mm == pytest.approx(2 + 26 / 30 + change.after - change.before)


def test_the_report_says_what_contradicts_and_what_to_do(file, capsys):
    path = file("{ value = 30, may_be = [28, 31] }", "{ value = 20, may_be = [19.5, 22] }")
    assert main(["propose", str(path)]) == ExitStatus.FAILS
    out = capsys.readouterr().out
    assert "No change that the file allows was found after which every rule holds." in out
    assert "  base – sledge keep 5 mm\n  post_y: at the most 31\n  nose: at the least 19.5\n" in out
    assert "It came nearest with post_y 31, nose 19.5\n  base – sledge: 1.50 mm short of its rule" in out
    assert "- allow more of the limits above" in out
    assert f"then run swingroom propose {path}" in " ".join(out.split())


def test_what_no_marked_dimension_bears_on_is_told_so(file, capsys):
    assert main(["propose", str(file(idle="{ value = 7, may_be = [6, 8] }"))]) == ExitStatus.FAILS
    out = capsys.readouterr().out
    assert "These cannot all be kept, as far as slopes tell where it came nearest\n  base – sledge keep 5 mm\n\n" in out
    assert "- mark a dimension on which it depends; what each number does: swingroom helps" in " ".join(out.split())


def test_the_record_is_json(file, capsys):
    assert main(["propose", str(file("{ value = 42, may_be = [28, 50] }")), "--json"]) == ExitStatus.CLEAR
    record = json.loads(capsys.readouterr().out)
    assert (record["proposals"], record["broken"], record["allowed"][0]["name"]) == ([], [], "post_y")


@pytest.mark.parametrize(
    ("post", "asked", "told"),
    [
        (
            "30",
            [],
            "dimensions: no dimension is marked as one that may be changed; write what one may be, such as bar =",
        ),
        ("{ value = 30, may_be = [31, 40] }", [], "today's value 30 does not lie between 31 and 40"),
        (
            "{ value = 30, may_be = [28, 40] }",
            ["--clearance", "6"],
            "--pair and --clearance belong together; give --pair",
        ),
        ("{ value = 30, may_be = [28, 40] }", ["--pair", "base", "sledge"], "belong together; give --clearance MM too"),
        (
            "{ value = 30, may_be = [28, 40] }",
            ["--pair", "base", "sledge", "--clearance", "4"],
            "the file requires 5 mm of `base` and `sledge`; ask for 5 mm or more",
        ),
        (
            "{ value = 30, may_be = [28, 40] }",
            ["--pair", "base", "sled", "--clearance", "6"],
            "there is no part `sled`",
        ),
        ("{ value = 30, may_be = [28, 40] }", ["--pair", "base", "base", "--clearance", "6"], "base"),
    ],
)
def test_what_is_asked_wrongly_is_one_clear_line(file, capsys, post, asked, told):
    assert main(["propose", str(file(post)), *asked]) == ExitStatus.INPUT
    said = capsys.readouterr()
    (line,) = [line for line in said.err.splitlines() if told in line]
    assert line
    assert said.out == ""


def test_the_guide_shows_what_the_command_says(capsys):
    """Of the demo of the day before; its proposals are held by the demo's own test."""
    guide = (ROOT / "README.md").read_text(encoding="utf-8")
    assert "swingroom propose meshes/parcel_trike_before/parcel_trike_before.toml" in guide
    assert main(["propose", "--help"]) == 0
    assert "may_be = [16, 22]" in " ".join(capsys.readouterr().out.split())
