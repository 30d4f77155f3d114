"""The fuzz itself: tries of its cheap kind find nothing, and each kind of damage, done on purpose, is found.

The short version of ``scripts/fuzz.py``, of which ``.ci/run`` makes many more tries.
"""

import random
import sys
import tempfile
from pathlib import Path

import click
import fuzz_attack
import fuzz_commands
import fuzz_files
import fuzz_oracle
import numpy as np
import pytest
from mesh_writers import obj
from plain_meshes import box, cube
from small_machines import slider

from assembly.cli import commands

CHUNKS, EACH = 6, 50


@pytest.mark.parametrize("chunk", range(CHUNKS))
def test_three_hundred_tries_find_nothing(chunk):
    cases = [fuzz_attack.case_of(seed, cheap=True) for seed in range(chunk * EACH, (chunk + 1) * EACH)]
    outcomes = [fuzz_attack.attempt(case) for case in cases]
    assert [(outcome.case.seed, outcome.findings) for outcome in outcomes if outcome.findings] == []
    assert {outcome.status for outcome in outcomes} >= {0, 2}


def test_a_tree_nested_deeper_than_calls_may_go_is_written_and_the_program_is_tried_as_it_is(monkeypatch):
    """The fuzz broke off at its 1 300th try or so: two nestings in one file."""

    def nested(tree, _chance):
        for _ in range(700):
            tree["a"] = {"b": [tree["a"]]}

    monkeypatch.setattr(fuzz_files, "STRUCTURAL", (nested,))
    before = sys.getrecursionlimit()
    data, done = fuzz_files.altered_tree("a = 1\n", random.Random(0))  # noqa: S311 - nothing secret
    assert data.count(b'"b" = [') == 700 * len(done.split(", "))
    assert sys.getrecursionlimit() == before


def test_a_seed_makes_the_same_try_again():
    assert fuzz_attack.case_of(7) == fuzz_attack.case_of(7)
    assert fuzz_attack.case_of(7) != fuzz_attack.case_of(8)


def plain_case(**others):
    return fuzz_attack.Case(0, "slider", {"m.toml": slider().encode()}, ("sweep", "m.toml", "--no-picture"), **others)


def raises(_arguments):
    raise ValueError("deliberate")


def warns(_arguments):
    sys.stderr.write("m.py:3: RuntimeWarning: overflow\n")
    return 0


def leaves(_arguments):
    Path(tempfile.gettempdir(), "left").touch()
    return 0


def alters(_arguments):
    Path("m.toml").write_text("", encoding="utf-8")
    return 2


def writes_no_number(_arguments):
    Path("results").mkdir()
    Path("results/record.json").write_text('{"least": NaN}', encoding="utf-8")
    return 3


def colours(_arguments):
    sys.stdout.write("\x1b[31mred\n")
    return 1


@pytest.mark.parametrize(
    ("command", "told"),
    [
        (raises, "exit status 70"),
        (raises, "'Traceback' on stderr"),
        (warns, "'Warning:' on stderr"),
        (leaves, "left tmp/left"),
        (alters, "altered work/m.toml"),
        (alters, "exit status 2 without a word"),
        (writes_no_number, "work/results/record.json is no JSON: NaN"),
        (colours, "a control character"),
        (lambda _: 7, "exit status 7"),
        (lambda _: 4, "exit status 4"),
        (lambda _: bytearray(900_000_000) and 0, "MemoryError"),
        (lambda _: len(bytearray(b"1") * 370_000_000) and 0, "MB of memory"),
    ],
)
def test_each_damage_is_found(monkeypatch, command, told):
    fuzz_attack.load_everything()
    monkeypatch.setattr(fuzz_attack, "main", command)
    monkeypatch.setattr(fuzz_attack, "MEMORY", 400_000_000)
    assert told in "\n".join(fuzz_attack.attempt(plain_case()).findings)


def test_a_machine_that_is_wrongly_told_clear_is_found(monkeypatch):
    """Closed form: the slider's gap is 2 mm at the end of its range; 3 mm are required."""
    fuzz_attack.load_everything()
    case = fuzz_attack.Case(0, "slider", {"m.toml": slider(required=3).encode()}, ("sweep", "m.toml"))
    monkeypatch.setattr(fuzz_attack, "main", lambda _: 0)
    (told,) = fuzz_attack.attempt(case).findings
    assert told == "WRONG CLEAR: base and sledge are 2 mm apart at [8.0], 3 are required"
    assert "WRONG CLEAR: because" in fuzz_attack.attempt(plain_case(strikes="because")).findings


def test_what_is_clear_is_not_found(tmp_path):
    (tmp_path / "m.toml").write_text(slider(), encoding="utf-8")
    assert list(fuzz_oracle.nearer_than_told(tmp_path / "m.toml", 0)) == []


@pytest.mark.parametrize(
    ("solid", "strikes"),
    [
        (cube(20, (0, 15.01, 0)), False),  # its face is 0.01 mm from what the box sweeps
        (cube(20, (0, 14.99, 0)), True),
        (cube(4), True),
        (cube(200), True),  # all of what is swept lies in it
    ],
)
def test_a_mesh_in_the_way_of_the_box_is_known_without_the_program(solid, strikes):
    assert fuzz_oracle.strikes_the_box("a.obj", obj(*solid)) is strikes


def test_a_facet_that_is_there_three_hundred_times_does_not_put_the_box_into_the_mesh():
    """The seeds 13000297 and 13000400: read as 300 facets, one of them goes round what lies beside it."""
    corners, facets = cube(20, (0, 25, 0))
    towards = facets[np.asarray(corners)[facets][:, :, 1].max(axis=1) == 15]
    again = np.concatenate([facets, np.repeat(towards, 300, axis=0)])
    assert not fuzz_oracle.strikes_the_box("a.obj", obj(corners, again))


def test_turned_facets_do_not_put_the_box_into_a_plate_beside_it():
    """The seed 50025509: facets of a plate that are turned count twice as seen from the box, which it does not hold."""
    corners, facets = box((80, 0.5, 40), (0, 8, 0))
    towards = np.asarray(corners)[facets][:, :, 1].max(axis=1) == 7.75
    facets[towards] = facets[towards][:, ::-1]
    assert not fuzz_oracle.strikes_the_box("a.obj", obj(corners, facets))


def test_the_fuzz_knows_every_command_and_every_option():
    known = {*fuzz_commands.VALUES, *fuzz_commands.FLAGS}
    missing = {
        option
        for command in commands.commands.values()
        for parameter in command.params
        if isinstance(parameter, click.Option)
        for option in parameter.opts
        if option.startswith("--") and option not in known
    }
    assert missing == set()
    assert set(commands.commands) - set(fuzz_commands.COMMANDS) == {"watch"}, "only what never ends by itself"
