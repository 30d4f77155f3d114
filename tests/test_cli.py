"""The commands as a builder types them: what stands on which stream, which files are left, which exit status."""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner
from small_machines import GATE_WITHOUT_DRIVE, slider, trammel

import assembly
import assembly.record
import assembly.report.render.pictures
from assembly.cli import ExitStatus, commands, main
from assembly.errors import OutputError, PictureError

ROOT = Path(__file__).resolve().parent.parent
MASKS = (
    (re.compile(r"(\d+ triangles) in [\d.]+ s"), r"\1 in WORK"),
    (re.compile(r"(CLEAR +\S+ +)\S+"), r"\1PROVEN"),
)

STRIKE_REPORT = """\
FAILS: base (block) strikes sledge (nose) at push +12 mm: 3.00 to 3.01 mm of clearance is missing
  (2.00 to 2.01 mm deep, 1 mm required)
1 of 2 pairs comes nearer than it may.
Slider: push −5 to +12 mm

Pairs with the least margin (2 of 2; the record has all)
  verdict          least mm  proven mm  required  pair (shape)                 at
  FAILS    2.00 to 2.01 deep          –         1  base (block) – sledge (nose)  push +12 mm
  CLEAR               10.00       PROVEN         1  base (block) – lug (ear)      push +12 mm

Where the failing pairs begin to be too near
  base – sledge, in about SHARE % of the range
    push from 0 up: at +9 mm
    at the worst setting, and there only, nose comes free when moved 2.00 mm (2.00 mm to the left)

Not checked: 1 pair
  welded together by joint weld: sledge – lug

2 pairs of 36 triangles in WORK

The model is stiff and as drawn: parts that bend, joints that wear, tyres that swell with speed,
  welds that pull and cables that hang are not in it. If a machine like this carries people, have
  its stops, brakes and steering looked at by someone competent, under the rules that hold where it
  is used, before anyone rides it.

record:  results/slider/record.json

What to do now
  - base against sledge: draw block of base 3.1 mm farther to the right, as it stands with all
    drives at 0; swept so, the pair keeps its clearance at every setting and no other pair of base
    loses its own; or let stops end push at +8.9 mm: swept so, the pair keeps its clearance
  - what to change, by how much: `swingroom helps slider.toml`, or `propose` or `grind` in place of
    `helps`; then run again: swingroom sweep slider.toml

FAILS: 1 of 2 pairs comes nearer than it may
"""

POSE_REPORT = """\
CLEAR at this one setting; least margin: base (block) to sledge (nose), 7.00 mm apart, 1 mm required
Slider at push +3 mm

Distances at this setting (2 pairs)
  verdict     mm  required  pair (shape)                  nearest point of the first
  CLEAR     7.00         1  base (block) – sledge (nose)  POINT
  CLEAR    19.00         1  base (block) – lug (ear)      POINT
  between the surfaces as drawn; the true ones may be nearer by up to 0.000 mm

Where each part stands
  part    middle              moved    turned
  base    [0.0, 0.0, 0.0]     fixed
  sledge  [0.0, 27.0, 0.0]    [0.0, −3.0, 0.0]  0.00°
  lug     [0.0, 32.0, 20.0]   [0.0, −3.0, 0.0]  0.00°

Not checked: 1 pair
  welded together by joint weld: sledge – lug

What to do now
  - one setting is not the range: run `swingroom sweep` on the same file

CLEAR at this one setting; least margin: base (block) to sledge (nose), 7.00 mm apart, 1 mm required
"""

INSPECT_REPORT = """\
GOES TOGETHER with all drives at 0: 3 parts and 2 joints; `swingroom sweep` will check 2 pairs
Slider: 3 parts, 36 triangles, 2 joints, 1 drive (push −5 to +8 mm)

Parts
  part    triangles  off by mm  size mm       moves with  shapes
  base           12      0.000  20 × 20 × 20  fixed       block
  sledge         12      0.000  20 × 20 × 20  lug         nose
  lug            12      0.000  6 × 6 × 20    sledge      ear
  off by: how far the triangles may lie from the true surface

Joints
  joint  kind   first part  second part  seat mm  angle limit
  guide  slide  base        sledge             –       –
  weld   welded  sledge      lug                –       –

Freedoms with all at 0, drives let go
  1 in all: the drives set 1 motion of a joint, and 0 others

Worth knowing: nothing

Not checked: 1 pair
  welded together by joint weld: sledge – lug

A sweep checks 2 pairs; joined ones without the joint's own bearing

What to do now
  - where this is the machine you meant: run `swingroom sweep` on the same file

GOES TOGETHER with all drives at 0: 3 parts and 2 joints; `swingroom sweep` will check 2 pairs
"""


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """An empty folder to work in, with a file writer."""
    monkeypatch.chdir(tmp_path)

    def write(name, text):
        (tmp_path / name).write_text(text)
        return name

    return write


def masked(text, *more):
    for pattern, put in (*MASKS, *more):
        text = re.sub(pattern, put, text)
    return "\n".join(line.rstrip() for line in text.splitlines())


def squeezed(text):
    """Rows without their padding, which changes with what is masked."""
    return [re.sub(r" {2,}", "  ", line) for line in text.splitlines()]


def test_sweep_of_a_strike_reads_as_written_here(shop, capsys):
    shop("slider.toml", slider(high=12.0))
    assert main(["sweep", "slider.toml", "--cores", "1", "--no-picture", "--all"]) == ExitStatus.FAILS
    told = masked(capsys.readouterr().out, (r"about [\d.]+ %", "about SHARE %"))
    assert squeezed(told) == squeezed(STRIKE_REPORT)


def test_pose_reads_as_written_here(shop, capsys):
    shop("slider.toml", slider())
    assert main(["pose", "slider.toml", "--set", "push=3", "--no-picture"]) == ExitStatus.CLEAR
    told = re.sub(r"\[[^]]*10\.0[^]]*\]$", "POINT", capsys.readouterr().out, flags=re.MULTILINE)
    assert squeezed(told) == squeezed(POSE_REPORT)
    assert not Path("results").exists()


def test_inspect_reads_as_written_here(shop, capsys):
    shop("slider.toml", slider())
    assert main(["inspect", "slider.toml"]) == ExitStatus.CLEAR
    assert squeezed(capsys.readouterr().out) == squeezed(INSPECT_REPORT)


def test_inspect_of_a_machine_that_cannot_move_says_why_and_fails(shop, capsys):
    shop("gate.toml", slider(extra=GATE_WITHOUT_DRIVE))
    assert main(["inspect", "gate.toml"]) == ExitStatus.FAILS
    told = capsys.readouterr().out
    assert "CANNOT BE PUT TOGETHER: " in told
    assert "gate" in told


@pytest.mark.parametrize(
    ("text", "status", "word"),
    [
        (slider(), ExitStatus.CLEAR, "CLEAR: all 2 pairs keep their clearance"),
        (slider(required=3.0), ExitStatus.FAILS, "FAILS: base (block) comes within 2.00 mm of sledge (nose)"),
        (
            trammel(misalignment=15.0),
            ExitStatus.FAILS,
            "FAILS: low_ball leans 17.5° at push −30 mm; its angle limit is 15°",
        ),
    ],
)
def test_verdict_sets_the_exit_status_and_leads(shop, capsys, text, status, word):
    shop("machine.toml", text)
    assert main(["sweep", "machine.toml", "--cores", "1", "--no-picture", "--within", "5"]) == status
    assert capsys.readouterr().out.startswith(word)
    assert json.loads(Path("results/machine/record.json").read_text())["verdict"] == status.name.lower()


def test_spent_budget_exits_undecided(shop, capsys):
    shop("machine.toml", trammel() + "[clearance]\nrequired = 43\n")
    line = ["sweep", "machine.toml", "--cores", "1", "--no-picture", "--time-limit", "1e-9"]
    assert main(line) == ExitStatus.UNDECIDED
    assert "UNDECIDED" in capsys.readouterr().out


def test_machine_that_cannot_be_put_together_fails_in_one_line(shop, capsys):
    shop("gate.toml", slider(extra=GATE_WITHOUT_DRIVE))
    assert main(["sweep", "gate.toml", "--no-picture"]) == ExitStatus.FAILS
    told = capsys.readouterr()
    assert told.out == ""
    assert "gate" in told.err.splitlines()[-1]


@pytest.mark.parametrize("command", [["sweep", "--cores", "1"], ["pose"], ["inspect"]])
def test_json_stands_alone_on_stdout(shop, capsys, command):
    shop("slider.toml", slider())
    name, *options = command
    picture = [] if name == "inspect" else ["--no-picture"]
    assert main([name, "slider.toml", "--json", *options, *picture]) == ExitStatus.CLEAR
    raw = json.loads(capsys.readouterr().out)
    assert raw["machine"]["name"] == "Slider"
    if name == "sweep":
        assert raw == json.loads(Path("results/slider/record.json").read_text())


def test_out_names_the_folder(shop):
    shop("slider.toml", slider())
    assert main(["sweep", "slider.toml", "--cores", "1", "--no-picture", "--out", "deep/er"]) == ExitStatus.CLEAR
    assert [path.name for path in Path("deep/er").iterdir()] == ["record.json"]
    assert not Path("results").exists()


def test_picture_is_drawn_last_and_named(shop, capsys, monkeypatch):
    drawn = []

    def draw(scene, path):
        drawn.append((scene, Path("results/slider/record.json").exists()))

    monkeypatch.setattr(assembly.report.render.pictures, "draw", draw)
    shop("slider.toml", slider(high=12.0))
    main(["sweep", "slider.toml", "--cores", "1"])
    ((scene, record_was_there),) = drawn
    assert record_was_there
    assert scene.overlap is not None
    assert (scene.title, scene.pose_text) == ("Slider: base and sledge", "push +12 mm")
    told = capsys.readouterr().out
    assert "picture: results/slider/closest.png\n" in told


@pytest.mark.parametrize("trouble", [PictureError("no light"), RuntimeError("no light"), OutputError("no light")])
@pytest.mark.parametrize("command", ["sweep", "pose"])
def test_picture_that_fails_changes_neither_numbers_nor_status(shop, capsys, monkeypatch, trouble, command):
    def draw(_scene, _path):
        raise trouble

    monkeypatch.setattr(assembly.report.render.pictures, "draw", draw)
    shop("slider.toml", slider())
    options = ["--cores", "1"] if command == "sweep" else []
    assert main([command, "slider.toml", *options]) == ExitStatus.CLEAR
    told = capsys.readouterr()
    assert "picture: none was drawn: no light" in told.out
    assert "CLEAR" in told.out


def test_full_disk_loses_no_number_on_the_screen(shop, capsys, monkeypatch):
    def save(_record, path):
        raise OutputError(f"cannot write to {path}: No space left on device")

    monkeypatch.setattr(assembly.record, "save", save)
    shop("slider.toml", slider(high=12.0))
    assert main(["sweep", "slider.toml", "--cores", "1", "--no-picture"]) == ExitStatus.INPUT
    told = capsys.readouterr()
    assert "FAILS: base (block) strikes sledge" in told.out
    assert "No space left" in told.err.splitlines()[-1]


BAD_INPUT = [
    (["sweep", "nope.toml"], "nope.toml: there is no such file"),
    (["sweep", "."], "folder"),
    (["watch", "."], ".: this is a folder; give the mechanism file in it (.toml)"),
    (["sweep", "broken.toml"], "broken.toml:1"),
    (["sweep", "slider.toml", "--withn", "3"], "No such option '--withn'. Did you mean '--within'?"),
    (["sweep", "slider.toml", "--bracket", "3"], "No such option '--bracket'; it is called --within now; see"),
    (["page", "slider.toml", "--anew"], "No such option '--anew'; it is called --recompute now; see"),
    (["compare", "slider.toml", "--shrank", "3"], "No such option '--shrank'; it is called --allow-loss now; see"),
    (["map", "slider.toml", "--budget", "3"], "No such option '--budget'; it is called --time-limit now; see"),
    (["stop", "slider.toml", "--write", "a.stl"], "No such option '--write'; it is called --stl now; see"),
    (["picture", "slider.toml", "--run", "a"], "No such option '--run'; it is called --film-drive now; see"),
    (["picture", "slider.toml", "--turn"], "No such option '--turn'; it is called --film-round now; see"),
    (["range", "slider.toml", "--cells", "9"], "No such option '--cells'; it is called --grid now; see"),
    (["inspect", "slider.toml", "--run", "a"], "No such option '--run'; see `swingroom inspect --help`"),
    (["sweep", "slider.toml", "--within", "nan"], "nan is not a number above 0"),
    (["sweep", "slider.toml", "--within", "inf"], "inf is not a number above 0"),
    (["sweep", "slider.toml", "--within", "-1"], "-1 is not a number above 0; see `swingroom sweep --help`"),
    (["sweep", "slider.toml", "--within", "thin"], "thin is not a number above 0"),
    (["sweep", "slider.toml", "--time-limit", "0"], "0 is not a number above 0"),
    (["sweep", "slider.toml", "--cores", "0"], "0 is not in the range"),
    (["spread", "slider.toml", "--seed", "x"], "Invalid value for '--seed': 'x' is not a whole number"),
    (["wheels", "slider.toml", "--grid", "1"], "1 is not in the range 2 to 201"),
    (["sweep", "slider.toml", "--cores", "1.5"], "'1.5' is not a whole number"),
    (["sweep", "slider.toml", "--out", "slider.toml"], "cannot write to slider.toml: a file is in the way"),
    (["sweep", "slider.toml", "--out", "slider.toml/deep"], "a file is in the way"),
    (["pose", "slider.toml", "--set", "junk"], "'junk' is not NAME=VALUE"),
    (["pose", "slider.toml", "--set", "push=1,5"], "write a number with a point"),
    (["pose", "slider.toml", "--set", "=3"], "there is no drive"),
    (["pose", "slider.toml", "--set", "psh=3"], "there is no drive `psh`; the nearest of the drives is `push`"),
    (
        ["pose", "slider.toml", "--set", "push=99"],
        "drive `push` cannot be set to 99; its range in the file is -5 to 8 mm",
    ),
    (["pose", "slider.toml", "--set", "push=nan"], "cannot be set to nan"),
    (["pose", "slider.toml", "--set", "push=1", "--set", "push=2"], "drive `push` is set twice"),
    (["inspect"], "Missing argument 'FILE'; see `swingroom inspect --help`"),
    (["swep", "slider.toml"], "No such command 'swep'. Did you mean 'sweep'?"),
    ([], "Missing command"),
    (["new", "slider.toml"], "a file is in the way"),
]


@pytest.mark.parametrize(
    ("arguments", "told"), BAD_INPUT, ids=[" ".join(arguments) or "nothing" for arguments, _ in BAD_INPUT]
)
def test_bad_input_is_one_line_and_status_2_and_leaves_nothing(shop, capsys, arguments, told):
    shop("slider.toml", slider())
    shop("broken.toml", "format = \n")
    assert main(arguments) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert said.out == ""
    assert len(said.err.splitlines()) == 1
    assert told in said.err
    assert sorted(path.name for path in Path().rglob("*") if path.is_file()) == ["broken.toml", "slider.toml"]


def test_every_fault_of_a_file_has_its_line(shop, capsys):
    shop("slider.toml", slider().replace("[0, 30, 0]", "[0, thirty]").replace('"nose", box', '"nose", bxo'))
    shop("two.toml", slider().replace("along = [0, -1, 0]", "along = [0, 0, 0]").replace("[-5.0, 8.0]", "[8.0, -5.0]"))
    assert main(["inspect", "two.toml"]) == ExitStatus.INPUT
    lines = capsys.readouterr().err.splitlines()
    assert len(lines) == 2
    assert all(line.startswith("two.toml:") for line in lines)


def test_output_folder_is_tried_before_the_sweep(shop, monkeypatch):
    def never(*_arguments):
        raise AssertionError("swept though nothing can be written")

    monkeypatch.setattr("assembly.commands.common.sweep_aloud", never)
    shop("slider.toml", slider())
    assert main(["sweep", "slider.toml", "--out", "slider.toml"]) == ExitStatus.INPUT


COMMANDS = (
    *("sweep", "pose", "range", "stop", "loads", "inspect", "map", "picture", "export"),
    *("history", "compare", "nightly", "new", "schema", "variants"),
)


@pytest.mark.parametrize("command", [[], *([name] for name in COMMANDS)])
def test_every_command_has_help(command):
    run = CliRunner().invoke(commands, [*command, "--help"])
    assert run.exit_code == 0
    assert run.output.startswith("Usage: ")


def test_help_needs_no_heavy_library():
    heavy = "{'numpy', 'trimesh', 'scipy', 'pyvista', 'fcl', 'rich'}"
    code = f"import sys; from assembly.cli import main; main(['--help']); sys.exit(bool({heavy} & set(sys.modules)))"
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True).returncode == 0


def test_a_check_begins_without_what_few_commands_use():
    """Each of them costs every command a tenth of a second or more: libraries, and the readers of shapes of no part."""
    rare = "{'trimesh', 'pyvista', 'matplotlib', 'scipy.ndimage', 'scipy.optimize'}"
    late = "{'assembly.record.stopped', 'assembly.record.compared'}"
    code = (
        f"import sys, assembly.cli, assembly.model.reader; early = {late} & set(sys.modules); "
        "import assembly.api.questions; from assembly.model.shape_tables import ConeTable; "
        f"sys.exit(bool(early or {rare} & set(sys.modules)) or ConeTable.__pydantic_complete__)"
    )
    assert subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True).returncode == 0


def command(*arguments):
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "PYTHONIOENCODING": "utf-8"}
    return [sys.executable, "-m", "assembly", *arguments], {"env": environment, "text": True}


def test_module_runs_as_the_command_does(shop):
    shop("slider.toml", slider(high=12.0))
    words, options = command("sweep", "slider.toml", "--cores", "1", "--no-picture")
    run = subprocess.run(words, capture_output=True, **options)
    assert run.returncode == ExitStatus.FAILS
    assert "FAILS: base (block) strikes sledge (nose)" in run.stdout
    assert run.stderr.splitlines()[:2] == ["assemble", "gather pairs"]


def test_reader_that_leaves_early_changes_no_status(shop):
    shop("slider.toml", slider())
    words, options = command("sweep", "slider.toml", "--cores", "1", "--no-picture")
    with subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, **options) as run:
        run.stdout.close()
        said = run.stderr.read()
    assert run.returncode == ExitStatus.CLEAR
    assert "Traceback" not in said
    assert Path("results/slider/record.json").exists()
