"""The JSON Schema of mechanism files, by an independent validator: the `jsonschema` library, draft 2020-12."""

import json
import random

import pytest
import tomli
from fuzz_files import altered_tree, bases, small_bases
from jsonschema import Draft202012Validator
from mechanism_files import BENCH, TRIKE
from test_reader_faults import broken_files

from assembly.api.file_keys import SCHEMA_FILE
from assembly.cli import main
from assembly.errors import InputError
from assembly.model.file_schema import all_tables, file_schema, known_meanings, meaning_of
from assembly.model.reader import machine_from_text
from assembly.model.schema import StrictTable

OF_FORM = (
    "has no key",
    "stands where",
    "is missing",
    "in this list",
    "is not one of the choices",
    "has another name now",
)
"""Pieces of the reader's messages on what a schema can know: keys, kinds of value, lengths of lists, choices."""

LENGTHS = ("", "mm", "degrees", "degrees or mm", "mm or degrees", "mm, degrees or none", "as of value", "m")
UNITS = (*LENGTHS, "N", "N·m", "MPa", "kg", "kg/dm³", "m/s", "m/s²")


@pytest.fixture(scope="module")
def validator():
    return Draft202012Validator(file_schema())


def test_it_is_a_schema_of_draft_2020_12():
    assert file_schema()["$schema"] == "https://json-schema.org/draft/2020-12/schema"
    Draft202012Validator.check_schema(file_schema())


def every_table(kind=StrictTable):
    for each in kind.__subclasses__():
        yield each
        yield from every_table(each)


def test_every_table_that_is_written_in_a_file_is_in_it():
    leaves = {each for each in every_table() if each.__module__.startswith("assembly.") and not each.__subclasses__()}
    assert leaves <= set(all_tables())


def test_every_key_has_a_meaning_a_unit_and_an_example_and_no_meaning_is_of_no_key(validator):
    keys = [(table, key) for table in all_tables() for key in tuple(table.keys())]
    for table, key in keys:
        told = meaning_of(table, key)
        assert 3 < len(told.meaning) < 140
        assert not told.meaning.endswith(".")
        assert told.unit in UNITS
    written = {(table, key) for table, of_table in known_meanings().items() for key in of_table}
    assert written <= {(base.__name__.removesuffix("Table"), key) for table, key in keys for base in table.__mro__}


@pytest.mark.parametrize("table", all_tables(), ids=lambda table: table.__name__)
def test_every_example_is_one_that_its_own_key_takes(table):
    whole = file_schema()
    drawn = whole["$defs"].get(table.__name__.removesuffix("Table"), whole)
    for key, value in drawn["properties"].items():
        validator = Draft202012Validator({"$defs": whole["$defs"], **value})
        assert not list(validator.iter_errors(value["examples"][0])), key


@pytest.mark.parametrize("name", [name for name in bases() if not name.startswith("least_not")])
def test_every_file_that_is_read_is_accepted(validator, name):
    assert not list(validator.iter_errors(tomli.loads(bases()[name][0])))


@pytest.mark.parametrize("text", [TRIKE, BENCH], ids=["trike", "bench"])
def test_the_files_that_are_broken_below_are_accepted_whole(validator, text):
    assert validator.is_valid(tomli.loads(text))


@pytest.mark.parametrize("case", [pytest.param(case, id=case.name) for case in broken_files()])
def test_every_broken_file_whose_fault_is_one_of_form_is_refused(validator, case):
    text = next(text for text in (TRIKE, BENCH) if case.sound in text)
    broken = text.replace(case.sound, case.broken.replace("0xNINES", "9" * 5000), 1)
    try:
        tree = tomli.loads(broken)
    except ValueError:
        return
    if any(piece in case.told for piece in OF_FORM) and "`1.0`" not in case.told:  # a whole number in JSON
        assert not validator.is_valid(tree)


def test_whatever_the_reader_takes_is_accepted(validator, tmp_path):
    """Mechanism files altered by chance: an editor must not find fault with a file that the program reads."""
    chance, read = random.Random(20), 0  # noqa: S311 - no secret hangs on it
    for _ in range(150):
        text, _ = bases()[chance.choice(small_bases())]
        altered = altered_tree(text, chance)[0].decode("utf-8", "replace")
        try:
            machine_from_text(altered, tmp_path)
        except InputError:
            continue
        read += 1
        assert not list(validator.iter_errors(tomli.loads(altered))), altered
    assert read > 15


def test_the_command_prints_it_and_new_puts_it_where_the_first_line_of_its_file_says(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main(["schema"]) == 0
    assert json.loads(capsys.readouterr().out) == file_schema()
    assert main(["new", "gate"]) == 0
    assert (tmp_path / "gate" / "gate.toml").read_text(encoding="utf-8").startswith(f"#:schema {SCHEMA_FILE}\n")
    assert json.loads((tmp_path / "gate" / SCHEMA_FILE).read_text(encoding="utf-8")) == file_schema()
