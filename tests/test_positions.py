"""Lines and columns of a TOML text, counted by hand in the text below."""

import pytest

from assembly.model.positions import Positions

TEXT = """\
format = 1
[points]
a."b c".d = [1, [2, 3], { x = 1 }]  # dotted and quoted
'it is' = "ü" # literal
[[pairs]]
k = \"\"\"two
lines\"\"\"
[[pairs]]
"\\u0041é" = {
  one = 1,
  two = [
    # a remark
    2,
  ],
}
[pairs.below]
last = 5
"""

PLACES = [
    (("format",), (1, 1)),
    (("points",), (2, 1)),
    (("points", "a", "b c"), (3, 1)),
    (("points", "a", "b c", "d", 0), (3, 14)),
    (("points", "a", "b c", "d", 1, 1), (3, 21)),
    (("points", "a", "b c", "d", 2, "x"), (3, 27)),
    (("points", "it is"), (4, 1)),
    (("pairs",), (5, 1)),
    (("pairs", 0), (5, 1)),
    (("pairs", 0, "k"), (6, 1)),
    (("pairs", 1), (8, 1)),
    (("pairs", 1, "Aé", "one"), (10, 3)),
    (("pairs", 1, "Aé", "two", 0), (13, 5)),
    (("pairs", 1, "below", "last"), (17, 1)),
]


@pytest.mark.parametrize(("place", "found"), PLACES, ids=[str(place) for place, _ in PLACES])
def test_each_entry_is_found_where_it_stands(place, found):
    assert Positions(TEXT).find(place) == found
    assert Positions(TEXT).line(place) == found[0]


def test_what_is_not_there_is_at_the_nearest_table_round_it():
    assert Positions(TEXT).line(("pairs", 1, "Aé", "three", 7)) == 9
    assert Positions(TEXT).line(("nothing",)) is None
    assert Positions(TEXT).line(()) is None


def test_columns_count_characters_and_not_bytes():
    assert Positions('"größe" = [1, 2]').find(("größe", 1)) == (1, 15)


@pytest.mark.parametrize("text", ["", "[", "a = ", "a = [1,\nb = 2", "= 3", "\0", "[[a]\n" * 3, "a = " + "[" * 5000])
def test_a_broken_text_raises_nothing(text):
    Positions(text).line(("a", 0))
