"""``swingroom export`` as a builder types it: the file, words, exit status, refusals."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner
from glb_reader import read
from small_machines import SPINDLE, slider, trammel

from assembly.cli import ExitStatus, commands, main
from assembly.kinematics import keyframes

REPORT = """\
Spindle at spin 0°, lift +5 mm: 2 parts, 2 motions

Motions, each from that setting to both ends and back
  drive   from      to  keys  off by mm
  spin   −100°  +100°  KEYS      0.000
  lift    0 mm  +12 mm    13      0.000
"""


@pytest.fixture
def shop(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def run(text, *arguments):
    Path("rig.toml").write_text(text, encoding="utf-8")
    return CliRunner().invoke(commands, ["export", "rig.toml", *arguments], standalone_mode=False)


def test_a_model_that_moves_is_written_and_its_error_told(shop):
    done = run(SPINDLE, "--set", "lift=5")
    assert done.return_value == ExitStatus.CLEAR
    told = re.sub(r"(spin .*?)\d+ +(0\.000)", r"\1KEYS \2", done.stdout)
    squeezed = [" ".join(line.split()) for line in told.splitlines()]
    assert squeezed[:6] == [" ".join(line.split()) for line in REPORT.splitlines()]
    assert done.stdout.endswith("\nmodel: results/rig/rig.glb\n")
    glb = read(Path("results/rig/rig.glb").read_bytes())
    assert [one["name"] for one in glb.table["animations"]] == ["spin", "lift"]
    assert glb.place("wheel")[0][1] == pytest.approx(glb.place("frame")[0][1] + 0.005)  # y up, metres


def test_a_still_model_has_no_motions(shop):
    done = run(slider(), "--still", "--out", "here/a.GLB")
    assert done.return_value == ExitStatus.CLEAR
    assert "3 parts, 0 motions" in done.stdout
    assert "animations" not in read(Path("here/a.GLB").read_bytes()).table


def test_what_cannot_be_put_together_is_left_out_and_told(shop, monkeypatch):
    monkeypatch.setattr(keyframes, "FINEST", 4)  # quicker, and the end less close
    done = run(trammel(low=-120.0))
    assert done.return_value == ExitStatus.FAILS
    told = " ".join(done.stdout.split())
    assert re.search(r"LEFT OUT: from push −9[789][.\d]* mm to push −120 mm; the machine cannot be put together", told)
    glb = read(Path("results/rig/rig.glb").read_bytes())
    lowest = min(glb.values(one["output"])[:, 0].min() for one in glb.animation("push")["samplers"])
    assert lowest > -0.1  # metres: the rod is 100 mm long


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (("--out", "a.stl"), "the file a.stl has an ending that cannot be written here; it can end in .glb"),
        (("--out", "."), "it can end in .glb"),
        (("--out", "rig.toml/a.glb"), "a file is in the way"),
        (("--set", "psh=1"), "the nearest of the drives is `push`"),
        (("--set", "push=nan"), "cannot be set to nan"),
        (("--set", "push=1", "--set", "push=2"), "drive `push` is set twice"),
    ],
)
def test_what_cannot_be_is_refused_in_one_line_and_leaves_nothing(shop, capsys, arguments, told):
    Path("rig.toml").write_text(slider(), encoding="utf-8")
    assert main(["export", "rig.toml", *arguments]) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert said.out == ""
    assert told in said.err.splitlines()[-1]
    assert [path.name for path in shop.rglob("*")] == ["rig.toml"]
