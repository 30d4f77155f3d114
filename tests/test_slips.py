"""What newcomers write instead of TOML: the line, and what would be valid there (own list)."""

from pathlib import Path

import pytest

from assembly.cli import main

STARTER = (Path(__file__).resolve().parent.parent / "assembly" / "starter" / "arm_and_crank.toml").read_text(
    encoding="utf-8"
)
SLIPS = {
    "name without quotes": ('at = "arm_pin"', "at = arm_pin", 'names and arithmetic stand in quotes: "arm_pin"'),
    "arithmetic without quotes": ("arm = 180 ", "arm = 180/2 ", 'arithmetic stands in quotes: "180/2"'),
    "curly quotes": ('at = "arm_pin"', "at = “arm_pin”", "use straight quotes"),
    "quote not closed": ('at = "crank_pin"', 'at = "crank_pin', "is not closed in this line"),
    "True": ("fixed = true", "fixed = True", "write true or false, in small letters"),
    "number with a unit": ("diameter = 10 },", "diameter = 10mm },", "numbers stand without a unit: 10"),
    "text with a unit": ("diameter = 10 },", 'diameter = "10 mm" },', "numbers stand without a unit: 10"),
    "degree sign": ("range = [-40, 40]", 'range = ["-40°", 40]', "angles are in degrees"),
    "colon": ("diameter = 10 },", "diameter: 10 },", "write = between a key and its value: diameter = ..."),
    "header of two words": ("[parts.rod]", "[parts rod]", "a point stands between the words: [parts.rod]"),
    "header in round brackets": ("[parts.rod]", "(parts.rod)", "in square brackets: [parts.rod]"),
    "leading zero": ("diameter = 10 },", "diameter = 010 },", "a number does not begin with 0: 10"),
    "point at the end": ("diameter = 10 },", "diameter = 10. },", "a digit stands behind the point: 10.0"),
    "point at the start": ("misalignment = 15", "misalignment = .5", "a digit stands before the point: 0.5"),
    "tolerance": (
        "crank = { value = 75, plus_minus = 0.5 }",
        "crank = 75 +- 0.5",
        "a tolerance: { value = 75, plus_minus = 0.5 }",
    ),
    "tolerance sign": ("crank = { value = 75, plus_minus = 0.5 }", 'crank = "75 ± 0.5"', "plus_minus = 0.5 }"),
    "comment": ("[joints.arm_pivot]", "// the arm\n[joints.arm_pivot]", "a comment begins with #"),
    "name twice": ("[drives.head]", "[drives.crank]", "each name stands once in its table"),
}


@pytest.mark.parametrize("case", SLIPS)
def test_a_slip_is_told_with_its_line_and_what_is_valid(case, tmp_path, capsys):
    sound, broken, told = SLIPS[case]
    assert sound in STARTER
    path = tmp_path / "machine.toml"
    path.write_text(STARTER.replace(sound, broken, 1), encoding="utf-8")
    assert main(["inspect", str(path)]) == 2
    lines = capsys.readouterr().err.splitlines()
    assert lines[0].startswith(f"{path}:{STARTER[: STARTER.index(sound)].count(chr(10)) + 1}: ")
    assert told in lines[0]
