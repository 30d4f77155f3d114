"""Drawings over the drives as files: the ending says the format, and a file depends on its content alone."""

import sys
import tempfile
from pathlib import Path

import pytest
from lxml import etree
from matplotlib.font_manager import fontManager
from PIL import Image

from assembly.errors import OutputError
from assembly.report.charts.plotting import sheet_for
from assembly.report.charts.trend_picture import TrendLine, TrendPanel, draw_trend
from assembly.report.render.lettering import font
from assembly.report.render.palette import SHEET

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = '<script>alert(1)</script> & "quotes" --> ]]> $x$ \u202eevil'


def drawn(path, words="plain"):
    with sheet_for(path, (2.0, 1.0)) as sheet:
        axes = sheet.subplots()
        axes.plot([0, 1], [0, 1])
        axes.bar([0], [1], hatch="///")
        axes.set_title(words)
    return path.read_bytes()


def test_the_ending_says_the_format(tmp_path):
    assert drawn(tmp_path / "a.png").startswith(b"\x89PNG")
    root = etree.fromstring(drawn(tmp_path / "a.svg"))
    assert root.tag == f"{SVG}svg"
    assert (root.get("width"), root.get("height")) == ("144pt", "72pt")  # 72 points to the inch (CSS Values 3, 6.2)
    assert root.findall(f".//{SVG}path")


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_the_same_drawing_gives_the_same_bytes(tmp_path, ending):
    assert drawn(tmp_path / f"one.{ending}") == drawn(tmp_path / f"other.{ending}")


def test_an_svg_tells_no_date(tmp_path):
    assert b"<dc:date>" not in drawn(tmp_path / "a.svg")


def test_hostile_words_stay_words(tmp_path):
    root = etree.fromstring(drawn(tmp_path / "a.svg", HOSTILE))
    assert not list(root.iter("{*}script"))


def test_a_sign_that_the_font_lacks_is_drawn_as_a_box_without_a_warning(tmp_path, recwarn):
    drawn(tmp_path / "a.png", "左 lever")
    assert not recwarn.list


@pytest.mark.parametrize("ending", ["png", "svg"])
def test_a_drawing_that_cannot_be_written_leaves_nothing(tmp_path, ending):
    with pytest.raises(OutputError, match="cannot write"):
        drawn(tmp_path / "missing" / f"a.{ending}")
    assert list(tmp_path.iterdir()) == []


def test_a_plot_has_the_pages_ground_and_the_lettering_of_the_other_pictures(tmp_path):
    with sheet_for(tmp_path / "one.png", (3.0, 2.0)) as sheet:
        axes = sheet.subplots()
        axes.set_title("Margin")
        sheet.suptitle("A machine")
        assert axes.title.get_fontname() == font(12).getname()[0]
    assert sheet.get_suptitle() == "A machine"
    with Image.open(tmp_path / "one.png") as image:
        assert image.convert("RGB").getpixel((1, 1)) == SHEET


def test_a_drawing_leaves_no_file_of_its_lettering_behind(tmp_path):
    """It once stayed until the process ended, and for good where that was ended by force."""
    drawn(tmp_path / "a.png")
    temporary = Path(tempfile.gettempdir())
    known = [Path(font.fname) for font in fontManager.ttflist]
    assert not [file for file in known if file.is_relative_to(temporary) and not file.is_relative_to(sys.prefix)]


def test_nothing_asks_for_letters_that_the_lettering_lacks(tmp_path, caplog):
    """The drawing library would say so where the user reads."""
    draw_trend(
        "Machine", ["now"], [TrendPanel("Pairs", "mm", "low", (TrendLine("a", "b", (1.0,)),), "")], tmp_path / "a.png"
    )
    assert not caplog.records
