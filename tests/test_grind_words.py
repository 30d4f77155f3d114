"""What is told of what to grind where one of two cuts goes right through: nothing is worked out here."""

import made_records
import pytest

from assembly.record.ground import AddedEntry, GroundPartEntry, GroundPlaceEntry, GroundRecord
from assembly.report.text.grind_text import grind_blocks, ground_title
from assembly.report.text.layout import Line
from assembly.report.text.picture_words import swept_answer


def part(name, depth, *, through=False, advised=True):
    added = AddedEntry(0.0, 0.51, 0.18, 0.03, 0.05)
    at, outwards = (0.0, 0.0, 0.0), (0.0, 0.0, 1.0)
    place = GroundPlaceEntry("plate", depth, at, outwards, 20.0, 6.0, "", 0.0, 1.5, through, 100.0, added)
    return GroundPartEntry(name, (place,), advised, "", "clear", 3.1, 3.05, 12)


def record(*parts):
    machine = made_records.record().machine
    program = made_records.record().program
    names = tuple(one.part for one in parts)
    return GroundRecord(program, machine, {}, "fails", "", names, 3.0, "fails", 0.0, 2.0, parts)


def told(made):
    return " ".join(block.text for block in grind_blocks(made, "swingroom sweep rig.toml") if isinstance(block, Line))


def test_what_stays_whole_is_advised_before_what_is_cut_through():
    words = told(record(part("fork", 6.0, through=True), part("arm", 7.0)))
    assert "- grind arm, or fork, which then goes right through: the STL of what goes" in words


def test_the_excess_and_what_most_of_it_is_for_are_told():
    words = told(record(part("arm", 7.0), part("fork", 6.0)))
    more = "no more than 0.77 mm are there for certainty, 0.51 of them because the parts move between the settings"
    assert more in words


@pytest.mark.parametrize(
    ("entry", "words"),
    [
        (part("arm", 7.012), "Trike: what goes from arm, up to 7.02 mm deep"),
        (part("fork", 6.0, through=True), "Trike: what goes from fork, right through"),
        (part("fork", 6.0, advised=False), "Trike: what goes from fork, up to 6.00 mm deep, NOT advised"),
    ],
)
def test_the_picture_says_how_deep(entry, words):
    assert ground_title(record(entry, part("other", 1.0)), entry) == words


def test_the_picture_of_a_gap_that_never_changes_says_so():
    pair = made_records.pair(least=9.0, constant=True, closed_in=True)
    assert swept_answer(pair, made_records.record([pair]))[1].startswith("9.00 mm apart at every setting, 3 mm of")
