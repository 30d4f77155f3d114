import numpy as np
import pytest
from PIL import Image, ImageDraw

from assembly.report.render.lettering import draw_text, drawable, font, shortened, text_width


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("tie rod 3.5°", "tie rod 3.5°"),
        ("Längslenker größe", "Langslenker grosse"),
        ("rod\nend\t 2", "rod end 2"),
        ("漢字 left", "? left"),
        ("😀😀😀", "?"),
        ("a\u202eb\u200dc", "a\\u202ebc"),
        ("e\u0301", "e"),
        ("tilt −3° – wide", "tilt −3° - wide"),
        ("<script>", "<script>"),
        ("", ""),
    ],
)
def test_words_are_put_in_letters_the_font_has(text, expected):
    assert drawable(text) == expected


def test_long_names_keep_both_ends_and_fit():
    name = "lower_arm_" + "x" * 300 + "_left"
    short = shortened(name, 20, 200)
    assert font(20).getlength(short) <= 200
    assert short.startswith("lower_ar")
    assert short.endswith("_left")
    assert "…" in short
    assert font(20).getlength(short) > 180


def test_short_names_stay():
    assert shortened("frame", 20, 200) == "frame"


def test_endless_text_is_cut_before_it_is_measured():
    assert len(drawable("ab " * 1_000_000)) <= 1000


def test_a_minus_before_a_number_is_as_wide_as_a_plus():
    """A hyphen is half as long: at arm's length "-3" reads as "3"."""

    def drawn(text):
        sheet = Image.new("L", (120, 40), 255)
        draw_text(ImageDraw.Draw(sheet), (5, 5), text, 24, 0, 0, 255)
        return np.asarray(sheet) < 128

    def wide(text):
        across = np.flatnonzero(drawn(text).any(axis=0))
        return across[-1] - across[0]

    assert wide("−") == pytest.approx(wide("+"), abs=1)
    assert wide("-") < 0.7 * wide("−")
    assert text_width("−3", 24) == text_width("+3", 24)
    assert (drawn("+3")[:, 25:] == drawn("−3")[:, 25:]).all()
