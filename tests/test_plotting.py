"""Drawings over the drives as files: the ending says the format, and a file depends on its content alone."""

import pytest
from lxml import etree

from assembly.errors import OutputError
from assembly.report.charts.plotting import sheet_for

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
