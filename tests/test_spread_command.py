"""``swingroom spread`` and the tolerances of the file."""

import csv
import json
from io import StringIO
from math import erf, hypot, sqrt

import numpy as np
import pytest
from tolerance_machines import read, stack_text

import assembly
from assembly.clearance.tolerances.readings import tolerances_of
from assembly.cli import main
from assembly.errors import InputError
from assembly.record import FigureEntry
from assembly.report.export.spread_sheet import spread_sheet
from assembly.report.text.spread_text import spread_blocks
from assembly.report.text.terminal import plain_text
from assembly.studies.spread.made_anew import drawn_at_random, sampled_entry

HOUSING, PARTS = (40, 0.10), [(25, 0.05), (2, 0.03), (10, 0.05)]
"""A published worked example of a one-dimensional stack: gap 3.00, worst case ±0.23, root of squares ±0.126095."""
REQUIRED, MACHINES = 2.97, 60


@pytest.fixture(scope="module")
def record():
    """The stack with a rule that some machines break."""
    return assembly.spread(read(stack_text(HOUSING, PARTS, REQUIRED)), machines=MACHINES, seed=7, cores=1, cached=False)


def test_nominal_worst_case_and_root_of_squares_stand_side_by_side(record):
    (gap,) = record.figures
    assert gap.nominal == pytest.approx(0.03, abs=1e-6)
    assert gap.proven == pytest.approx(0.03 - 0.23, abs=3e-3)
    assert gap.by_slopes == pytest.approx(0.03 - 0.23, abs=1e-6)
    assert gap.shown == pytest.approx(0.03 - 0.23, abs=1e-6)
    assert gap.root_sum == pytest.approx(hypot(0.10, 0.05, 0.03, 0.05), abs=1e-6)
    assert gap.root_sum == pytest.approx(0.126095, abs=1e-6)
    assert gap.growth == pytest.approx(0.13, abs=2e-3)
    assert (record.verdict, gap.verdict) == ("fails", "fails")
    assert gap.off == {"housing": -0.1, "part_0": 0.05, "part_1": 0.03, "part_2": 0.05}


def test_what_eats_the_clearance_is_ranked(record):
    shares = [(share.dimension, round(share.takes, 6), round(share.share, 4)) for share in record.figures[0].shares]
    told = [("housing", 0.1, 0.4348), ("part_0", 0.05, 0.2174), ("part_2", 0.05, 0.2174), ("part_1", 0.03, 0.1304)]
    assert shares == told


def test_random_machines_agree_with_the_normal_distribution(record):
    """Closed form: a sum of normal numbers is normal. The machines made anew are the sums of their dimensions."""
    known, sigma = record.figures[0].sampled, 0.126095 / 3
    tolerances = tolerances_of(read(stack_text(HOUSING, PARTS)))
    off = drawn_at_random(tolerances, MACHINES, 7) @ [1, -1, -1, -1]
    assert known.machines == MACHINES
    assert known.mean == pytest.approx(0.03 + off.mean(), abs=1e-6)
    assert known.deviation == pytest.approx(off.std(ddof=1), abs=1e-6)
    assert known.broken == pytest.approx((off < -0.03).mean(), abs=1e-9)
    many = drawn_at_random(tolerances, 100_000, 7) @ [1, -1, -1, -1]
    assert many.std() == pytest.approx(sigma, rel=0.01)
    # a share Φ(-0.03 / σ) breaks the rule
    assert (many < -0.03).mean() == pytest.approx((1 + erf(-0.03 / sigma / sqrt(2))) / 2, abs=0.005)


def test_the_confidence_of_what_machines_show():
    """Chi-square of 99 degrees of freedom: 73.361 and 128.422; none of 100: at most 1 - 0.025^(1/100) (closed form)."""
    figure = FigureEntry("pair", ("a", "b"), "", "mm", 1.0, 0.0, "clear", ())
    values = np.linspace(1, 2, 100)
    told = sampled_entry(values, figure)
    assert told.deviation_low == pytest.approx(values.std(ddof=1) * sqrt(99 / 128.422), rel=1e-5)
    assert told.deviation_high == pytest.approx(values.std(ddof=1) * sqrt(99 / 73.361), rel=1e-5)
    assert (told.broken, told.broken_low) == (0.0, 0.0)
    assert told.broken_high == pytest.approx(1 - 0.025**0.01, rel=1e-9)


def test_unequal_limits_shift_the_middle():
    """A gap of 3 that varies from -0.3 to +0.25: its middle lies 0.025 lower, its half width is 0.275."""
    text = stack_text((40, "[-0.1, 0.3]"), [(37, "[0.05, 0.2]")])
    (gap,) = assembly.spread(read(text), machines=0, cores=1, cached=False).figures
    assert gap.by_slopes == pytest.approx(3 - 0.1 - 0.2, abs=1e-6)
    assert gap.middle == pytest.approx(0.1 - 0.125, abs=1e-6)
    assert gap.root_sum == pytest.approx(hypot(0.2, 0.075), abs=1e-6)
    assert gap.sampled is None


def test_one_screen_tells_it_all(record):
    told = " ".join(plain_text(spread_blocks(record, "swingroom spread stack.toml")).split())
    assert told.startswith("FAILS: 1 of 1 rules can be broken within the tolerances: bed and stack first")
    assert "bed – stack (mm) 0.03 −0.21 −0.20 −0.10" in told
    assert "housing 1.000 0.100 43 %" in told
    assert "breaks its rule with housing −0.1, part_0 +0.05, part_1 +0.03: hold these closer" in told


def test_the_table_has_a_column_for_each_dimension(record):
    head, row = csv.reader(StringIO(spread_sheet(record).lstrip("\ufeff")))
    told = dict(zip(head, row, strict=True))
    assert float(told["housing takes"]) == pytest.approx(0.1, abs=1e-6)
    assert float(told["proven"]) == pytest.approx(-0.2, abs=3e-3)
    assert told["verdict"] == "fails"


@pytest.mark.parametrize(
    ("required", "dimensions", "status", "words"),
    [
        (2.7, None, 0, "CLEAR: every rule is proven to hold whatever the dimensions are"),
        (2.97, None, 1, "FAILS"),
        (2.7, "round(1)", 0, "CLEAR"),
        (2.7, "round(housing)", 3, "has kinks or jumps where a tolerance is in it"),
    ],
)
def test_the_status_is_that_of_the_worst_case(required, dimensions, status, words, tmp_path, capsys):
    path = tmp_path / "stack.toml"
    text = stack_text(HOUSING, PARTS, required)
    if dimensions:
        text = text.replace("[parts.bed]", f'more = "{dimensions}"\n[parts.bed]')
    path.write_text(f"format = 1\n{text}", encoding="utf-8")
    asked = ["spread", str(path), "--machines", "2", "--cores", "1", "--csv", "--out", str(tmp_path / "out")]
    assert main(asked) == status
    assert words in " ".join(capsys.readouterr().out.split())
    assert (tmp_path / "out" / "spread.csv").is_file()


@pytest.mark.parametrize(("required", "status", "word"), [(2.7, 0, "CLEAR"), (2.9, 1, "FAILS")])
def test_a_sweep_that_counts_tolerances_is_as_good_as_its_worst_case(
    required, status, word, tmp_path, capsys, monkeypatch
):
    """As drawn the gap is 3.00, so a sweep alone is clear with either rule; the worst case is 2.77."""
    monkeypatch.setattr("assembly.commands.spread.MACHINES", 3)
    path, out = tmp_path / "stack.toml", tmp_path / "out"
    path.write_text(f"format = 1\n{stack_text(HOUSING, PARTS, required)}", encoding="utf-8")
    asked = ["sweep", str(path), "--spread", "--cores", "1", "--no-picture", "--out", str(out)]
    assert main(asked) == status
    told = capsys.readouterr().out
    assert "CLEAR: the pair keeps its clearance" in told
    assert f"Within the tolerances of the file\n{word}" in told
    assert json.loads((out / "spread.json").read_text(encoding="utf-8"))["verdict"] == word.lower()
    assert json.loads((out / "record.json").read_text(encoding="utf-8"))["verdict"] == "clear"


def test_the_record_comes_as_json(tmp_path, capsys):
    path = tmp_path / "stack.toml"
    path.write_text(f"format = 1\n{stack_text(HOUSING, PARTS)}", encoding="utf-8")
    assert main(["spread", str(path), "--machines", "0", "--cores", "1", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["kind"] == "spread"
    assert told["tolerances"][0] == {"name": "housing", "value": 40.0, "low": -0.1, "high": 0.1, "general": ""}


GENERAL = '[tolerances]\ngeneral = "{}"\n'


def test_plain_numbers_without_a_tolerance_get_that_of_the_class():
    """ISO 2768-1, class m: 40 has ± 0.3; what states one, or is worked out, has none of the class."""
    text = stack_text(HOUSING, PARTS).replace("[dimensions]", '[dimensions]\nplain = 40\nhalf = "plain / 2"')
    found = read(text + GENERAL.format("m")).dimensions
    assert (found["plain"].plus_minus, found["plain"].general) == (0.3, "m")
    assert (found["half"].plus_minus, found["half"].general) == (0.0, "")
    assert (found["housing"].plus_minus, found["housing"].general) == (0.1, "")


@pytest.mark.parametrize(
    ("line", "general", "told"),
    [
        ("odd = { value = 1, plus_minus = 2 }", "m", "the tolerance 2 is larger than the dimension 1"),
        ("odd = { value = -1, plus_minus = [-2, 0] }", "m", "the tolerance 2 is larger than the dimension -1"),
        ("odd = { value = 1, plus_minus = -0.1 }", "m", "-0.1 mm is out of bounds"),
        ("odd = { value = 1, plus_minus = [0.2, 0.1] }", "m", "the lower limit 0.2 lies above the upper one 0.1"),
        ("odd = { value = 1, plus_minus = [0.2] }", "m", "1 entry in this list; at least 2 are needed"),
        ("odd = 0.2", "m", "class m has no tolerance for 0.2 mm"),
        ("odd = 5", "h", "`h` is no class of general tolerances; ISO 2768-1 has the classes f, m, c or v"),
    ],
)
def test_bad_tolerances_are_told_in_one_line(line, general, told):
    text = stack_text(HOUSING, PARTS).replace("[dimensions]", f"[dimensions]\n{line}")
    with pytest.raises(InputError) as caught:
        read(text + GENERAL.format(general))
    (fault,) = caught.value.faults
    assert told in str(caught.value)
    assert fault.line is not None


@pytest.mark.parametrize(
    ("section", "told"),
    [
        ('[tolerances]\ngenral = "m"\n', "the nearest is `general`"),
        ("[tolerances]\ngeneral = 5\n", "`5` stands where text in quotes is needed"),
        ("[tolerances]\nclass = 1\n", "its keys are `general`"),
    ],
)
def test_a_table_of_tolerances_without_a_class_is_a_fault_of_the_file(section, told):
    """The table has one key, without which it cannot be read: what stands there instead is told with its line."""
    with pytest.raises(InputError) as caught:
        read(stack_text(HOUSING, PARTS) + section)
    assert told in str(caught.value)
    assert all(fault.line is not None for fault in caught.value.faults)


def test_a_file_without_tolerances_is_told_what_to_write():
    text = stack_text((40, 0), [(37, 0)])
    with pytest.raises(InputError, match=r"no dimension of the file has a tolerance.*general"):
        assembly.spread(read(text))
