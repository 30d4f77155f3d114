"""Arithmetic of mechanism files against Python's own: same numbers, and one told fault if there is none."""

import math
import sys

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from assembly.errors import InputError
from assembly.model.arithmetic import evaluate, name_fault, names_in
from assembly.model.dimensions import solve_dimensions

DIMENSIONS = {"track": 640.0, "arm_inner": 58.0, "höhe": 165.5, "x2": -3.0}

PYTHON = {
    **DIMENSIONS,
    "pi": math.pi,
    "sqrt": math.sqrt,
    "sin": lambda degrees: math.sin(math.radians(degrees)),
    "cos": lambda degrees: math.cos(math.radians(degrees)),
    "atan": lambda ratio: math.degrees(math.atan(ratio)),
    "atan2": lambda y, x: math.degrees(math.atan2(y, x)),
    "abs": abs,
    "min": min,
    "max": max,
    "round": round,
    "floor": math.floor,
    "ceil": math.ceil,
}

NUMBERS = st.one_of(
    st.integers(0, 1000).map(str),
    st.floats(0, 1e6, allow_subnormal=False).map(repr),
    st.sampled_from(["0", "1e-9", "0.5", "pi", *DIMENSIONS]),
)


def _grown(inner):
    return st.one_of(
        st.tuples(inner, st.sampled_from(["+", "-", "*", "/", " + ", " * "]), inner).map("".join),
        inner.map("({})".format),
        inner.map("-{}".format),
        st.tuples(inner, st.integers(0, 3)).map(lambda pair: f"({pair[0]})**{pair[1]}"),
        st.tuples(st.sampled_from(["sin", "cos", "atan", "abs", "floor", "ceil", "round", "sqrt"]), inner).map(
            lambda pair: f"{pair[0]}({pair[1]})"
        ),
        st.tuples(st.sampled_from(["min", "max", "atan2"]), inner, inner).map(
            lambda three: f"{three[0]}({three[1]}, {three[2]})"
        ),
    )


@settings(max_examples=200, deadline=None, derandomize=True)
@given(st.recursive(NUMBERS, _grown, max_leaves=12))
def test_any_expression_has_pythons_value_or_is_a_fault_where_python_has_none(text):
    try:
        wanted = float(eval(text, {"__builtins__": {}}, PYTHON))  # noqa: S307 - made here, from a fixed alphabet
    except (ArithmeticError, ValueError):
        wanted = math.nan
    if math.isfinite(wanted):
        assert evaluate(text, DIMENSIONS) == pytest.approx(wanted, rel=1e-12, abs=1e-300)
    else:
        with pytest.raises(InputError):
            evaluate(text, DIMENSIONS)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("track/2 - 62", 258),
        ("2**3**2", 512),
        ("-2**2", -4),
        ("7 - 4 - 2", 1),
        ("100 / 10 / 2", 5),
        ("sin(30)", 0.5),
        ("cos(60)", 0.5),
        ("tan(45)", 1),
        ("asin(0.5)", 30),
        ("acos(0.5)", 60),
        ("atan(1)", 45),
        ("atan2(1, -1)", 135),
        ("sqrt(3**2 + 4**2)", 5),
        ("max(1, 3, 2) + min(4, 5)", 7),
        ("round(2.4) + floor(2.9) + ceil(2.1)", 7),
        ("  1_000 +\n 0x10 ", 1016),
        ("+".join(["1"] * 90), 90),
    ],
)
def test_written_arithmetic_has_the_value_worked_out_by_hand(text, value):
    assert evaluate(text, DIMENSIONS) == pytest.approx(value, rel=1e-14)


FAULTS = [
    ("", "the text is empty"),
    ("   ", "the text is empty"),
    ("track +", "cannot be read"),
    ("12 mm", "cannot be read"),
    ("2 3", "cannot be read"),
    ("1,5", "use a point: 1.5"),
    ("2 * 12,5 + 3,25", "use a point: 2 * 12.5 + 3.25"),
    ("1, 5", "use a point: 3.5"),
    ("2^3", "written **"),
    ("5 − 3", "minus is written -"),
    ("7 % 2", "no place"),
    ("7 // 2", "not allowed"),
    ("1 if 1 else 2", "not allowed"),
    ("1or 2", "not allowed"),
    ("not 1", "not allowed"),
    ("True", "not allowed"),
    ("None", "not allowed"),
    ("1j", "not allowed"),
    ("'a'", "no place"),
    ("[1][0]", "no place"),
    ("track.real", "not allowed"),
    ("(1).__class__", "not allowed"),
    ("sqrt(1)(2)", "not allowed"),
    ("max(*track)", "not allowed"),
    ("lambda: 1", "no place"),
    ("trak / 2", "the nearest of the dimensions is `track`"),
    ("sqr(2)", "unknown function `sqr`"),
    ("eval(1)", "unknown function `eval`"),
    ("__import__(1)", "unknown function"),
    ("sin", "needs brackets"),
    ("sin()", "sin is given 0 numbers"),
    ("atan2(1)", "it takes 2 numbers"),
    ("sqrt(1, 2)", "it takes 1 number"),
    ("1/(track - 640)", "division by zero"),
    ("0 ** -1", "divides by zero"),
    ("(-8) ** 0.5", "no real value"),
    ("sqrt(-4)", "sqrt(-4) has no value"),
    ("acos(1.1)", "acos(1.1) has no value"),
    ("tan(90)", "tan(90) has no value"),
    ("tan(-270)", "has no value"),
    ("1e308 * 10", "larger than any number"),
    ("1e999", "larger than any number"),
    ("9 ** 9 ** 9", "exponent"),
    ("10 ** 64 ** 1 * 1e300", "larger than any number"),
    ("floor(1e308 * 10)", "larger than any number"),
    ("1" * 400, "larger than any number"),
    ("1" * 2000, "2000 characters"),
    ("1" + "+1" * 400, "nested too deeply or has too many terms"),
    ("max(" + "1," * 480 + "1)", "too many terms"),
    ("-" * 900 + "1", "nested too deeply"),
    ("(" * 450 + "1" + ")" * 450, "cannot be read"),
    ("\0", "no place"),
]


@pytest.mark.parametrize(("text", "told"), FAULTS, ids=[text[:20] or "empty" for text, _ in FAULTS])
def test_what_is_no_arithmetic_is_one_told_fault(text, told):
    with pytest.raises(InputError) as caught:
        evaluate(text, DIMENSIONS)
    (fault,) = caught.value.faults
    assert told in str(fault)


@settings(max_examples=150, deadline=None, derandomize=True)
@given(st.one_of(st.text(max_size=60), st.text("0129.eE+-*/() ,abspiqrtmxfloorceil_jx[]{}=:'\\\n", max_size=40)))
def test_any_text_is_a_finite_number_or_a_told_fault(text):
    try:
        value = evaluate(text, DIMENSIONS)
    except InputError:
        return
    assert math.isfinite(value)


def test_deep_nesting_is_told_even_where_the_stack_is_nearly_full():
    def sink(levels):
        return sink(levels - 1) if levels else evaluate("-" * 80 + "1", {})

    depth = sys.getrecursionlimit() - 400
    assert sink(depth - len_of_stack()) == 1


def len_of_stack():
    frame, count = sys._getframe(), 0
    while frame:
        frame, count = frame.f_back, count + 1
    return count


def test_names_are_the_dimensions_that_a_text_leans_on():
    assert names_in("sqrt(track) + max(arm, arm) * pi") == {"track", "arm"}


@pytest.mark.parametrize("name", ["track", "_x", "größe", "x2", "sinus"])
def test_a_plain_name_can_stand_for_a_dimension(name):
    assert name_fault(name) is None
    assert evaluate(f"2*{name}", {name: 4.0}) == 8


@pytest.mark.parametrize("name", ["sin", "pi", "in", "lambda", "arm-inner", "2x", "a b", "", "ﬁt"])
def test_a_name_that_arithmetic_would_misread_is_refused(name):
    assert name_fault(name) is not None


def test_dimensions_are_solved_in_the_order_they_need():
    chain = {f"d{k}": f"d{k + 1} + 1" for k in range(3000)}
    solved = solve_dimensions({**chain, "d3000": 5, "half": "d0 / 2"})
    assert solved.values["d0"] == 3005
    assert solved.values["half"] == 1502.5
    assert solved.faults == {}


def test_each_cycle_is_told_once_with_its_members_in_turn():
    solved = solve_dimensions({"p": 1, "a": "b*2", "b": "c", "c": "a + p", "self": "self", "leans": "a"})
    assert {name: fault.message for name, fault in solved.faults.items()} == {
        "a": "goes round in a circle: a -> b -> c -> a",
        "self": "goes round in a circle: self -> self",
    }
    assert solved.values == {"p": 1}


def test_a_dimension_that_leans_on_a_faulty_one_is_not_told_again():
    solved = solve_dimensions({"bad": "1/0", "next": "bad + 1", "typo": "nxt"})
    assert set(solved.faults) == {"bad", "typo"}
    assert "nearest of the dimensions is `next`" in str(solved.faults["typo"])
    assert solved.values == {}
