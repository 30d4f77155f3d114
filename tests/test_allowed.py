"""What the file says may be changed: limits, steps and sizes, each fault in one line at its place."""

from pathlib import Path

import pytest

from assembly.clearance.narrow_phase.checked_pairs import gather_pairs
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.clearance.proof.cache_keys import pair_keys
from assembly.errors import InputError
from assembly.kinematics.assembling import assemble
from assembly.model.allowed import line_with, steps_between
from assembly.model.reader import machine_from_text

HERE = Path(__file__).resolve().parent
TEXT = """
format = 1
[dimensions]
idle = 7
bar = BAR
[parts.base]
fixed = true
shapes = [{ box = [0, 40, 0], size = [20, 20, 20] }]
[parts.sledge]
shapes = [{ box = [0, 0, 0], size = [20, "bar", 20] }]
[joints.guide]
slide = ["base", "sledge"]
at = [0, 0, 0]
along = [0, 1, 0]
[drives.push]
slides = { guide = 1 }
range = [-3, 3]
"""


def read(entry):
    return machine_from_text(TEXT.replace("BAR", entry), HERE)


def test_limits_steps_sizes_and_weights_are_read():
    assert read("18").may_change == {}
    (bar,) = read('{ value = 18, may_be = ["idle + 9", 22], weight = 2 }').may_change.values()
    assert (bar.name, bar.value, bar.low, bar.high, bar.step, bar.sizes, bar.weight) == ("bar", 18, 16, 22, None, (), 2)
    (bar,) = read("{ value = 18, may_be = [16.2, 22], step = 0.5 }").may_change.values()
    assert (bar.step, steps_between(bar, 18.0)) == (0.5, (-3, 8))
    (bar,) = read("{ value = 18, plus_minus = 0.2, sizes = [16, 18, 20.5] }").may_change.values()
    assert (bar.low, bar.high, bar.sizes, bar.weight) == (16, 20.5, (16, 18, 20.5), None)


def test_a_marked_dimension_is_the_same_machine_as_the_plain_value():
    """What is known of its pairs stays known, and a comparison sees no other dimension."""
    plain, marked = read("18"), read("{ value = 18, may_be = [16, 22], step = 0.5, weight = 3 }")
    assert plain.dimensions == marked.dimensions

    def keys(machine):
        mechanism = assemble(machine)
        return pair_keys(mechanism, gather_pairs(machine, mechanism.bodies), Effort())

    assert keys(plain) == keys(marked)


def test_another_value_may_lie_outside_the_limits():
    """They are what the builder would change it to, no rule of the machine: a trial may go beyond."""
    assert read("{ value = 18, may_be = [16, 22] }").with_dimensions(bar=30).dimensions["bar"].value == 30


@pytest.mark.parametrize(
    ("entry", "told"),
    [
        (
            "{ value = 18, may_be = [19, 22] }",
            "dimensions.bar.may_be: today's value 18 does not lie between 19 and 22; give limits with 18 between them",
        ),
        (
            "{ value = 18, may_be = [22, 16] }",
            "dimensions.bar.may_be: the limits are the wrong way round: 22, 16; write the smaller first",
        ),
        (
            "{ value = 18, may_be = [18, 18] }",
            "dimensions.bar.may_be: both limits are 18, so nothing may change; give two different limits",
        ),
        (
            "{ value = 18, may_be = [16, 22], step = 0.7 }",
            "dimensions.bar.step: steps of 0.7 from 18 miss both ends, 16 and 22; "
            "give a step of which a whole number leads from today's value to one of the ends",
        ),
        ("{ value = 18, may_be = [18, 22], step = 9 }", "dimensions.bar.step: steps of 9 from 18 miss both ends"),
        ("{ value = 18, may_be = [16, 22], step = -1 }", "dimensions.bar.step: -1 is no step"),
        ("{ value = 18, may_be = [16, 22], step = 1e-6 }", "dimensions.bar.step: steps of 1e-06 are more than 100000"),
        ("{ value = 18, sizes = [18, 16] }", "dimensions.bar.sizes: the sizes do not rise: 18, 16"),
        ("{ value = 18, sizes = [16, 20] }", "dimensions.bar.sizes: today's value 18 is none of the sizes 16, 20"),
        ("{ value = 18, sizes = [18] }", "dimensions.bar.sizes: 1 of `sizes` is no choice"),
        (
            "{ value = 18, sizes = [16, 18], may_be = [16, 18] }",
            "dimensions.bar.sizes: `sizes` beside `may_be` or `step` says twice what it may be",
        ),
        ("{ value = 18, step = 1 }", "dimensions.bar.step: `step` without what the dimension may be; write bar = {"),
        ("{ value = 18, weight = 1 }", "dimensions.bar.weight: `weight` without what the dimension may be"),
        ("{ value = 18, may_be = [16, 22], weight = 0 }", "dimensions.bar.weight: 0 is no weight"),
        (
            '{ value = "idle + 11", may_be = [16, 22] }',
            "dimensions.bar.value: arithmetic stands here, so it cannot be changed by itself; "
            "mark the dimensions that it is worked out from",
        ),
        ('{ value = 18, may_be = [16, "idel"] }', "dimensions.bar.may_be[1]: unknown dimension `idel`"),
        ("{ value = 18, may_be = 16 }", "dimensions.bar.may_be: `16` stands where a list is needed"),
        ("{ value = 18, maybe = [16, 22] }", "dimensions.bar.maybe: a dimension has no key `maybe`; the nearest"),
    ],
)
def test_each_fault_of_a_mark_is_one_line(entry, told):
    with pytest.raises(InputError) as caught:
        read(entry)
    (fault,) = caught.value.faults
    assert str(fault).startswith(f"machine.toml:5: {told}"), str(fault)


def test_the_line_to_paste_keeps_all_else_that_stands_there():
    (bar,) = read("{ value = 18, may_be = [16, 22], step = 0.5, weight = 2 }").may_change.values()
    written = "bar = { may_be = [16, 22], value = 18, step = 0.5 }  # cut, not welded"
    assert line_with(bar, written, 20.5) == written.replace("value = 18", "value = 20.5")
    assert line_with(bar, "value = 18.0  # by hand", 20.5) == "value = 20.5  # by hand"
    inline = "dimensions = { bar = { value = 18, may_be = [16, 22] }, post = { value = 3 } }"
    assert line_with(bar, inline, 20.5) == "bar = { value = 20.5, may_be = [16, 22], step = 0.5, weight = 2 }"
    (bar,) = read("{ value = 18, sizes = [16, 18] }").may_change.values()
    assert line_with(bar, inline, 16.0) == "bar = { value = 16, sizes = [16, 18] }"
