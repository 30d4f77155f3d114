"""``swingroom picture`` as a builder types it: files, words, exit status, refusals."""

from pathlib import Path

import pytest
from click.testing import CliRunner
from PIL import Image
from small_machines import slider, trammel
from tries import first

from assembly.cli import ExitStatus, commands, main
from assembly.errors import PictureError
from assembly.report.render import picture_files

SMALL = ("--size", "640x360")


@pytest.fixture
def shop(tmp_path, monkeypatch):
    """An empty folder with a machine in it."""
    monkeypatch.chdir(tmp_path)
    Path("rig.toml").write_text(slider(), encoding="utf-8")
    return tmp_path


def run(*arguments):
    return CliRunner().invoke(commands, ["picture", "rig.toml", *SMALL, *arguments], standalone_mode=False)


def files(folder):
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file())


def test_one_setting_is_drawn_from_chosen_sides(shop, opengl):
    done = run("--set", "push=3", "--view", "left", "--view", "top")
    assert done.return_value == ExitStatus.CLEAR
    assert done.stdout == "Slider: push +3 mm\npicture: results/rig/picture.png\n"
    assert files(shop) == ["results/rig/picture.png", "rig.toml"]
    with Image.open("results/rig/picture.png") as image:
        assert (image.size, image.mode) == ((640, 360), "RGB")


def test_parts_are_brought_out_on_a_transparent_ground(shop, opengl):
    assert run("--part", "lug", "--transparent", "--plain", "--out", "deep/er.PNG").return_value == ExitStatus.CLEAR
    with Image.open("deep/er.PNG") as image:
        assert (image.mode, image.getpixel((0, 0))[3]) == ("RGBA", 0)


@pytest.mark.parametrize(
    ("options", "seconds"),
    first([(("--film-round",), 0.32), (("--film-drive", "push"), 0.64), (("--ends",), 0.64)], 1),
)
def test_films_are_as_long_as_asked(shop, opengl, options, seconds):
    done = run(*options, "--seconds", str(seconds))
    assert done.return_value == ExitStatus.CLEAR
    with Image.open("results/rig/picture.gif") as film:
        assert film.n_frames == round(seconds * 12.5)


def test_what_is_left_out_of_a_film_is_told_and_is_status_1(shop, opengl):
    Path("rig.toml").write_text(trammel(low=-120.0), encoding="utf-8")
    done = run("--film-drive", "push", "--seconds", "1", "--out", "film.gif")
    assert done.return_value == ExitStatus.FAILS
    told = " ".join(done.stdout.split())
    assert "LEFT OUT: from push −120 mm to push −" in told
    assert "cannot be put together at push −120 mm, where the loop" in told
    assert "misses by 20.00 mm." in told
    assert Path("film.gif").is_file()


def test_a_pose_that_cannot_be_put_together_is_never_drawn(shop, capsys):
    Path("rig.toml").write_text(trammel(low=-120.0), encoding="utf-8")
    assert main(["picture", "rig.toml", "--set", "push=-110"]) == ExitStatus.FAILS
    (line,) = [line for line in capsys.readouterr().err.splitlines() if "assembled" not in line]
    assert "cannot be put together at push -110" in line
    assert files(shop) == ["rig.toml"]


REFUSED = [
    (("--out", "a.jpg"), "the file a.jpg has an ending that cannot be written here; it can end in .png"),
    (("--out", "a.gif"), "it can end in .png"),
    (("--film-round", "--out", "a.png"), "it can end in .gif or .mp4"),
    (("--out", "a"), "it can end in .png"),
    (("--out", "folder.png"), "folder.png is a folder"),
    (("--out", "rig.toml/a.png"), "a file is in the way"),
    (("--view", "lft"), "'lft' is not one of 'corner'"),
    (("--part", "lgu"), "there is no part `lgu`"),
    (("--film-drive", "psh"), "there is no drive `psh`; the nearest of the drives is `push`"),
    (("--set", "push=99"), "its range in the file is -5 to 8 mm"),
    (("--size", "big"), "'big' is not WIDTHxHEIGHT in whole pixels, such as 1600x900"),
    (("--size", "-5x900"), "is not WIDTHxHEIGHT"),
    (("--size", "10x10"), "a picture cannot be 10 × 10 pixels large; use whole numbers from 640 × 360 to 8000 × 8000"),
    (("--size", "9000x900"), "to 8000 × 8000"),
    (("--size", "641x481", "--film-round", "--out", "a.mp4"), "both must be even, such as 640 × 480"),
    (
        ("--film-round", "--film-drive", "push"),
        "--film-round and --film-drive cannot be filmed at once",
    ),
    (("--film-round", "--view", "top"), "--film-round goes round the machine and takes no --view; leave out --view"),
    (("--film-round", "--transparent"), "a film cannot be transparent"),
    (("--ends", "--set", "push=1"), "0 drives are free"),
    (("--seconds", "3"), "--seconds is for films; add --film-round, --film-drive DRIVE or --ends"),
    (("--film-round", "--seconds", "0"), "0 is not a number above 0"),
    (("--film-round", "--seconds", "nan"), "nan is not a number above 0"),
    (("--film-round", "--seconds", "1e9"), "60 s is the longest"),
]


@pytest.mark.parametrize(("arguments", "told"), REFUSED, ids=[" ".join(arguments) for arguments, _ in REFUSED])
def test_what_cannot_be_is_refused_in_one_line_and_leaves_nothing(shop, capsys, arguments, told):
    Path("folder.png").mkdir()
    assert main(["picture", "rig.toml", *arguments]) == ExitStatus.INPUT
    said = capsys.readouterr()
    assert said.out == ""
    (line,) = said.err.splitlines()
    assert told in line
    assert files(shop) == ["rig.toml"]


def test_a_picture_that_nothing_can_draw_leaves_the_old_one(shop, capsys, monkeypatch):
    def failing(*_):
        raise PictureError("no picture could be drawn")

    monkeypatch.setattr(picture_files, "still_picture", failing)
    Path("old.png").write_bytes(b"yesterday")
    assert main(["picture", "rig.toml", "--out", "old.png"]) == ExitStatus.UNDECIDED
    assert capsys.readouterr().err.splitlines()[-1] == "no picture could be drawn"
    assert Path("old.png").read_bytes() == b"yesterday"
