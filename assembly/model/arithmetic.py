"""Arithmetic as written in a mechanism file: text and dimension names in, one finite number out.

Python's own grammar is parsed but never run: only the node kinds listed here have a meaning, sizes are
capped before anything is computed, and every result must be a finite real number. Angles are in degrees.
"""

from __future__ import annotations

import ast
import keyword
import math
import operator
import re
import unicodedata
import warnings
from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import lru_cache

from assembly.errors import Fault, InputError
from assembly.model.fault_list import nearest, shown

LONGEST_TEXT = 1000
MOST_NODES = 400
DEEPEST_NESTING = 100
LARGEST_EXPONENT = 64

DECIMAL_COMMA = re.compile(r"(\d),(\d)")
_UNIT = re.compile(r"(\d+(?:\.\d+)?)\s*(?:mm|cm|m|deg|degrees|inch)\b")
_STRANGER = re.compile(r"[^\w\s.,+\-*/()]")
_STRANGER_HINTS = {
    "^": "a power is written **",
    "−": "minus is written -",
    "×": "times is written *",
    "·": "times is written *",
    "°": "numbers stand without a unit; angles are in degrees",
    "±": "write a tolerance as { value = 75, plus_minus = 0.5 }",
    "=": "the name stands before the text, not in it",
}
_ALLOWED = "use + - * / **, brackets, dimension names and the functions "

_OPERATORS: dict[type[ast.operator], Callable[[float, float], float]] = {
    ast.Add: operator.add,
    ast.Sub: operator.sub,
    ast.Mult: operator.mul,
    ast.Div: operator.truediv,
}
_SIGNS: dict[type[ast.unaryop], Callable[[float], float]] = {ast.UAdd: operator.pos, ast.USub: operator.neg}


def _tangent(degrees: float) -> float:
    if math.fmod(degrees, 180) in (90, -90):
        raise ValueError("tan is endless there")
    return math.tan(math.radians(degrees))


@dataclass(frozen=True, slots=True)
class _Function:
    """One function of the arithmetic and how many numbers it takes."""

    call: Callable[..., float]
    least: int = 1
    most: int = 1


_FUNCTIONS: dict[str, _Function] = {
    "sqrt": _Function(math.sqrt),
    "sin": _Function(lambda degrees: math.sin(math.radians(degrees))),
    "cos": _Function(lambda degrees: math.cos(math.radians(degrees))),
    "tan": _Function(_tangent),
    "asin": _Function(lambda ratio: math.degrees(math.asin(ratio))),
    "acos": _Function(lambda ratio: math.degrees(math.acos(ratio))),
    "atan": _Function(lambda ratio: math.degrees(math.atan(ratio))),
    "atan2": _Function(lambda across, along: math.degrees(math.atan2(across, along)), 2, 2),
    "abs": _Function(abs),
    "min": _Function(lambda *numbers: min(numbers), 1, MOST_NODES),
    "max": _Function(lambda *numbers: max(numbers), 1, MOST_NODES),
    "round": _Function(round),
    "floor": _Function(math.floor),
    "ceil": _Function(math.ceil),
}
_BENT = frozenset(("abs", "min", "max", "round", "floor", "ceil"))
"""Those with kinks or jumps."""
_CONSTANTS = {"pi": math.pi}


def name_fault(name: str) -> Fault | None:
    """Why ``name`` cannot stand for a dimension in arithmetic, or None where it can."""
    if name in _FUNCTIONS or name in _CONSTANTS:
        return Fault(f"{shown(name)} already has a meaning in arithmetic", hint="choose another name for the dimension")
    if keyword.iskeyword(name):
        return Fault(f"{shown(name)} is a reserved word of arithmetic", hint="choose a longer name, such as `in_mm`")
    if not name.isidentifier() or not unicodedata.is_normalized("NFKC", name):
        return Fault(
            f"{shown(name)} cannot be used in arithmetic",
            hint="a dimension's name is made of letters, digits and _, and does not start with a digit",
        )
    return None


def names_in(text: str) -> frozenset[str]:
    """The dimension names that ``text`` uses. InputError where it is not arithmetic."""
    if _is_plain_name(text):
        return frozenset() if text in _CONSTANTS else frozenset((text,))
    nodes = _parsed(text)
    calls = {id(node.func) for node in nodes if isinstance(node, ast.Call)}
    used = (node.id for node in nodes if isinstance(node, ast.Name) and id(node) not in calls)
    return frozenset(name for name in used if name not in _CONSTANTS)


def bent_names_in(text: str) -> frozenset[str]:
    """The dimension names that ``text`` uses inside a function with kinks or jumps: of these it is no smooth function.

    InputError where it is not arithmetic.
    """
    if _is_plain_name(text):
        return frozenset()
    calls = (node for node in _parsed(text) if isinstance(node, ast.Call))
    bent = [node for node in calls if isinstance(node.func, ast.Name) and node.func.id in _BENT]
    inside = (piece for node in bent for argument in node.args for piece in ast.walk(argument))
    return frozenset(piece.id for piece in inside if isinstance(piece, ast.Name))


def evaluate(text: str, dimensions: Mapping[str, float]) -> float:
    """The finite value of ``text`` with the names replaced by ``dimensions``. InputError says what is wrong."""
    try:
        value = _value(_parsed(text)[0], dimensions)
    except OverflowError:
        value = math.inf
    if not math.isfinite(value):
        raise InputError(Fault(f"{shown(text)} is larger than any number the program can hold"))
    return value


def unknown_dimension(name: str, known: Collection[str]) -> Fault:
    """The fault of using a dimension that is not in the file."""
    if name in _FUNCTIONS:
        return Fault(f"{shown(name)} is a function and needs brackets", hint=f"write {name}(...)")
    return Fault(f"unknown dimension {shown(name)}", hint=nearest(name, known, "dimensions"))


def _is_plain_name(text: str) -> bool:
    return text.isidentifier() and text.isascii() and len(text) <= LONGEST_TEXT and not keyword.iskeyword(text)


@lru_cache(maxsize=4096)
def _parsed(text: str) -> list[ast.expr]:
    """The expression in ``text``, small enough and made of allowed nodes only, and after it all that it is made of."""
    if _is_plain_name(text):
        return [ast.Name(text)]  # what the parser makes of it, in a tenth of the time
    stranger = _STRANGER.search(text)
    if not text.strip():
        raise InputError(Fault("the text is empty", hint="write a number or arithmetic such as `track/2 - 62`"))
    if len(text) > LONGEST_TEXT:
        raise InputError(Fault(f"arithmetic of {len(text)} characters", hint=f"at most {LONGEST_TEXT} are allowed"))
    if stranger:
        sign = stranger.group()
        hint = _STRANGER_HINTS.get(sign, _ALLOWED + " ".join(_FUNCTIONS))
        raise InputError(Fault(f"{shown(sign)} has no place in the arithmetic {shown(text)}", hint=hint))
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            tree = ast.parse(" ".join(text.split()), mode="eval").body
    except SyntaxError as error:
        where = f" at character {error.offset}" if error.offset else ""
        unit = _UNIT.search(text)
        hint = f"numbers stand without a unit: {unit[1]}" if unit else "write it like `track/2 - 62`"
        raise InputError(Fault(f"{shown(text)} cannot be read as arithmetic{where}", hint=hint)) from None
    except (RecursionError, MemoryError, ValueError):
        raise InputError(_too_deep()) from None
    nodes = _nodes_of(tree)
    _check_nodes(nodes, text)
    return nodes


def _too_deep() -> Fault:
    return Fault(
        "the arithmetic is nested too deeply or has too many terms",
        hint=f"at most {DEEPEST_NESTING} levels and {MOST_NODES} terms are allowed; split it over several dimensions",
    )


def _nodes_of(tree: ast.expr) -> list[ast.expr]:
    """``tree`` and every expression in it, level by level."""
    nodes: list[ast.expr] = []
    level, depth = [tree], 0
    while level:
        nodes, depth = nodes + level, depth + 1
        if len(nodes) > MOST_NODES or depth > DEEPEST_NESTING:
            raise InputError(_too_deep())
        level = [child for node in level for child in ast.iter_child_nodes(node) if isinstance(child, ast.expr)]
    return nodes


def _check_nodes(nodes: Iterable[ast.expr], text: str) -> None:
    for node in nodes:
        match node:
            case ast.BinOp(op=ast.Add() | ast.Sub() | ast.Mult() | ast.Div() | ast.Pow()) | ast.Name():
                continue
            case ast.UnaryOp(op=ast.UAdd() | ast.USub()):
                continue
            case ast.Constant(value=int() | float()) if not isinstance(node.value, bool):
                continue
            case ast.Call(func=ast.Name(), keywords=[]):
                _check_call(node)
                continue
            case ast.expr():
                raise InputError(_refused(node, text))


def _refused(node: ast.expr, text: str) -> Fault:
    if isinstance(node, ast.Tuple):
        return Fault(f"{shown(text)} has a comma outside a function", hint=f"use a point: {_with_points(text)}")
    piece = ast.unparse(node)
    return Fault(f"{shown(piece)} is not allowed in arithmetic", hint=_ALLOWED + " ".join(_FUNCTIONS))


def _with_points(text: str) -> str:
    """``text`` with points where a comma stands between digits, else an example."""
    mended = DECIMAL_COMMA.sub(r"\1.\2", text).strip()
    return shown(mended).strip("`") if mended != text.strip() else "3.5"


def _check_call(node: ast.Call) -> None:
    name = node.func.id if isinstance(node.func, ast.Name) else ""
    function = _FUNCTIONS.get(name)
    if function is None:
        raise InputError(Fault(f"unknown function {shown(name)}", hint=nearest(name, _FUNCTIONS, "functions")))
    if not function.least <= len(node.args) <= function.most:
        wanted = "at least 1 number" if function.most > 2 else f"{function.least} number{'s' * (function.least > 1)}"
        raise InputError(Fault(f"{name} is given {len(node.args)} numbers", hint=f"it takes {wanted}"))


def _value(node: ast.expr, dimensions: Mapping[str, float]) -> float:
    match node:
        case ast.Constant(value=int() | float() as number):
            return float(number)
        case ast.Name(id=name):
            if name in _CONSTANTS:
                return _CONSTANTS[name]
            if name not in dimensions:
                raise InputError(unknown_dimension(name, dimensions))
            return dimensions[name]
        case ast.UnaryOp(op=sign, operand=operand):
            return _SIGNS[type(sign)](_value(operand, dimensions))
        case ast.BinOp(left=left, op=ast.Pow(), right=right):
            return _power(_value(left, dimensions), _value(right, dimensions))
        case ast.BinOp(left=left, op=sign, right=right):
            return _combined(type(sign), _value(left, dimensions), _value(right, dimensions), node)
        case ast.Call(func=ast.Name(id=name), args=arguments):
            return _called(name, [_value(argument, dimensions) for argument in arguments])
    raise InputError(_refused(node, ast.unparse(node)))


def _combined(sign: type[ast.operator], left: float, right: float, node: ast.expr) -> float:
    if sign is ast.Div and right == 0:
        raise InputError(Fault(f"division by zero in {shown(ast.unparse(node))}"))
    return _OPERATORS[sign](left, right)


def _power(base: float, exponent: float) -> float:
    if abs(exponent) > LARGEST_EXPONENT:
        hint = f"exponents lie between -{LARGEST_EXPONENT} and {LARGEST_EXPONENT}"
        raise InputError(Fault(f"the exponent {exponent:g} is too large", hint=hint))
    if base == 0 and exponent < 0:
        raise InputError(Fault(f"0 ** {exponent:g} divides by zero"))
    if base < 0 and not exponent.is_integer():
        raise InputError(Fault(f"({base:g}) ** {exponent:g} has no real value"))
    return float(base**exponent)


def _called(name: str, arguments: list[float]) -> float:
    try:
        return float(_FUNCTIONS[name].call(*arguments))
    except ValueError:
        listed = ", ".join(f"{argument:g}" for argument in arguments)
        raise InputError(Fault(f"{name}({listed}) has no value")) from None
