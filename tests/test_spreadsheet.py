"""The table of pairs, read back with the csv module."""

import csv
from dataclasses import replace
from io import StringIO

import pytest
from made_records import overlap, pair, record

from assembly.printable import table_cell
from assembly.record import DriveEntry
from assembly.report.export.spreadsheet import pairs_table


def rows(made):
    text = pairs_table(made)
    assert text.startswith("\ufeff")
    assert text.count("\r\n") == text.count("\n") == 1 + len(made.pairs)
    return list(csv.DictReader(StringIO(text.removeprefix("\ufeff"), newline="")))


def test_one_row_for_each_pair_with_plain_numbers():
    (row,) = rows(record([pair(least=5.25, shape_a="leg, front")]))
    assert row == {
        "machine": "Trike",
        "a": "frame",
        "b": "wheel",
        "shape_a": "leg, front",
        "shape_b": "",
        "verdict": "clear",
        "required_mm": "3",
        "least_mm": "5.25",
        "proven_mm": "5.25",
        "margin_mm": "2.25",
        "depth_mm": "",
        "depth_at_most_mm": "",
        "closed_in": "yes",
        "seen_mm": "5.25",
        "why": "",
        "point_a_x": "1",
        "point_a_y": "2",
        "point_a_z": "3",
        "point_b_x": "1",
        "point_b_y": "2",
        "point_b_z": "8",
        "at tilt (deg)": "-12.5",
        "at steer (deg)": "0",
    }


def test_an_overlap_counts_below_zero():
    (row,) = rows(record([pair(least=0.0, verdict="fails", overlap=replace(overlap(2.0), at_most_mm=2.09991))]))
    assert (row["depth_mm"], row["depth_at_most_mm"], row["margin_mm"]) == ("2", "2.1", "-5")  # less the 3 mm required


def test_what_was_not_measured_is_an_empty_cell():
    (row,) = rows(record([pair(least=None, point_a=None, point_b=None, at={})]))
    assert {row[name] for name in ("least_mm", "proven_mm", "margin_mm", "point_a_x", "at tilt (deg)")} == {""}


def test_a_distance_that_was_only_seen_is_no_least_and_no_room():
    (row,) = rows(record([pair(least=31.71, proven_mm=8.28)]))
    assert (row["closed_in"], row["least_mm"], row["margin_mm"]) == ("no", "", "")
    assert (row["proven_mm"], row["seen_mm"]) == ("8.28", "31.71")


def test_a_clearance_is_never_rounded_up_and_never_a_power_of_ten():
    (row,) = rows(record([pair(least=2.99999, proven_mm=-0.00001, closed_in=True)]))
    assert (row["least_mm"], row["proven_mm"], row["margin_mm"]) == ("2.9999", "-0.0001", "-0.0001")
    (row,) = rows(record([pair(least=3.0 - 1e-9, point_a=(1e-12, -1e-12, 1e9))]))
    assert row["least_mm"] == "3"  # a nanometre is arithmetic
    assert [row[f"point_a_{axis}"] for axis in "xyz"] == ["0", "0", "1000000000"]


@pytest.mark.parametrize("name", ["=1+1", "+2", "-2", "@sum", "\tx", "\rx", " =1"])
def test_names_that_a_spreadsheet_would_work_out_are_made_harmless(name):
    made = record([pair(a=name, shape_b=name, why=name)])
    made = replace(made, machine=replace(made.machine, name=name), drives={name: DriveEntry(0.0, 1.0, "mm")})
    (row,) = rows(made)
    for column in ("machine", "a", "shape_b", "why"):
        assert row[column] == f"'{name}".replace("\t", "\\t").replace("\r", "\\r")
    assert f"at {name} (mm)".replace("\t", "\\t").replace("\r", "\\r") in row  # a title begins with a word of our own


def test_other_names_stay_as_they_are():
    for name in ("frame", "a=b", "größe", "'quoted'", ""):
        assert table_cell(name) == name
