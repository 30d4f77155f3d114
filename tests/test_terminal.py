"""Blocks on streams of every kind: a pipe, a terminal, one that cannot show the signs."""

import io

import pytest

from assembly.report.text.layout import Heading, Line, Table, Tone
from assembly.report.text.terminal import WIDTH, progress, ruled, write

BLOCKS = [
    Line("FAILS: a strikes b at tilt −27.4°", Tone.BAD),
    Heading("Pairs"),
    Table(
        ("verdict", "mm", "pair"),
        (("FAILS", "−2.10", "a – b"), ("CLEAR", "14.00", "c – [d]")),
        frozenset(("mm",)),
        (Tone.BAD, Tone.GOOD),
    ),
]


class Screen(io.StringIO):
    def isatty(self):
        return True


def test_pipe_gets_aligned_plain_text():
    stream = io.StringIO()
    write(BLOCKS, stream)
    assert stream.getvalue().splitlines() == [
        "FAILS: a strikes b at tilt −27.4°",
        "",
        "Pairs",
        "  verdict     mm  pair",
        "  FAILS    −2.10  a – b",
        "  CLEAR    14.00  c – [d]",
    ]


def test_terminal_gets_the_same_words_and_marks():
    stream = Screen()
    write(BLOCKS, stream)
    shown = stream.getvalue()
    for word in ("FAILS: a strikes b at tilt −27.4°", "Pairs", "−2.10", "14.00", "a – b", "c – [d]"):
        assert word in shown


def test_minus_is_spelled_where_it_cannot_be_shown():
    raw = io.BytesIO()
    stream = io.TextIOWrapper(raw, encoding="ascii", errors="replace")
    write(BLOCKS, stream)
    told = raw.getvalue().decode("ascii")
    assert "tilt -27.4 deg" in told
    assert "?" not in told


def test_long_sentence_is_broken_and_a_row_never_is():
    stream = io.StringIO()
    write([Line("word " * 60, indent=1), Table(("a",), (("x" * 300,),))], stream)
    lines = stream.getvalue().splitlines()
    assert max(map(len, lines[:-2])) <= WIDTH
    assert lines[0].startswith("  word")
    assert lines[1].startswith("    word")
    assert lines[-1].strip() == "x" * 300


def test_a_whole_line_is_never_broken():
    stream = io.StringIO()
    write([Line("word " * 60 + "end", indent=1, whole=True)], stream)
    assert stream.getvalue() == f"  {'word ' * 60}end\n"


def test_empty_line_stays():
    stream = io.StringIO()
    write([Line("")], stream)
    assert stream.getvalue() == "\n"


def test_log_gets_one_line_per_stage():
    stream = io.StringIO()
    with progress(stream) as told:
        told("assemble", 0, 0)
        told("decide", 3, 10)
        told("decide", 9, 10)
        told("close in", 0, 2)
    assert stream.getvalue() == "assemble\ndecide (7 of 10)\nclose in (2 of 2)\n"


@pytest.mark.parametrize("total", [0, 10])
def test_terminal_gets_a_moving_line(total):
    stream = Screen()
    with progress(stream) as told:
        told("assemble", 0, 0)
        told("decide", 3, total)
        told("decide", 9, total)
    assert "decide" in stream.getvalue()


@pytest.mark.parametrize(
    ("done", "total", "told"),
    [
        (0, 0, "sweep"),
        (0, 10, f"sweep  {30 * '.'}  0 of 10"),
        (5, 10, f"sweep  {3 * chr(39).join(['', '', '', '', '|'])}{15 * '.'}  5 of 10"),
        (10, 10, f"sweep  {6 * chr(39).join(['', '', '', '', '|'])}  10 of 10"),
    ],
)
def test_progress_is_strokes_along_a_rule(done, total, told):
    assert ruled("sweep", done, total) == told
