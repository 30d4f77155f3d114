import pytest

from assembly.report.render.lettering import drawable, font, shortened


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
