"""Mechanism files altered by chance, for the fuzz: as trees of tables and values, line by line and byte by byte."""

import copy
import json
import math
import random
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from typing import Any

import tomli
from fuzz_tables import NUMBERS, cable, measure, reading, rod, tolerances, wheels
from small_machines import slider

TEXTS = (
    "",
    " ",
    "x",
    "a.b",
    "__class__",
    "../..",
    "/dev/zero",
    "a\tb",
    "naïve",
    "左",
    "\u202eright",
    "\x1b[31m",
    "%s%n",
)
ROOT = Path(__file__).resolve().parent.parent
BIG = ("parcel_trike", "parcel_trike_before", "workboat", "leaning_front", "least_not", "missing_pin", "wrong_loop")
"""Bases, by how their names begin, that take more than a tenth of a second to read."""


class Raw(str):
    """Text that is written as it is, where a value stands."""

    __slots__ = ()


ENDS = ("left", "right", "left_left", "right_left", "Left", "_left", "left\u200b")
EXPRESSIONS = (
    "1/0", "sqrt(-1)", "2^1024", "2**9999", "9" * 400, "1e308*10", "-" * 300 + "1", "(" * 80 + "1" + ")" * 80,
    "sin(90)", "asin(2)", "tan(90)", "atan2(0, 0)", "max()", "1 if 1 else 2", "0x10", "1_000", "1,5", "nan", "inf",
    "a b", "{0}+{0}", "{0}/({0}-{0})", "{0}*1e200", "min({0}, 1)", "[{0}]", "lambda: 1", "{0}.real", "", "+", "1e", "π",
    "sin(cos(tan({0})))",
)  # fmt: skip
RAWS = (
    "inf", "-inf", "nan", "1e400", "1979-05-27", "07:32:00", "0x7fffffffffffffff", "0b1", "'''a\nb'''", '"""x"""',
    "[[[]]]", "{}", "[{}]", "{a.b = 1}", "true", "00", "1.", ".5", "[,]", "{", "", '"\\ud800"', "[" * 200, "1__0",
)  # fmt: skip


@cache
def bases() -> dict[str, tuple[str, Path]]:
    """Text and folder of every machine that is altered, by name."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    written = {"slider": slider(), "gate": readme.split("```toml\n")[1].split("```")[0]}
    files = [ROOT / "assembly/starter/arm_and_crank.toml", *sorted(ROOT.glob("meshes/*/*.toml"))]
    files += sorted(ROOT.glob("tests/cases/*.toml")) + sorted(ROOT.glob("tests/cases/files/*.toml"))
    found = {name: (text, ROOT) for name, text in written.items()}
    return found | {path.stem: (path.read_text(encoding="utf-8"), path.parent) for path in files}


@cache
def small_bases() -> tuple[str, ...]:
    """Names of the bases that are read in a moment."""
    return tuple(name for name, (text, _) in bases().items() if not name.startswith(BIG) and len(text) < 20_000)


@cache
def vocabulary() -> tuple[tuple[str, Any], ...]:
    """Every key with its value, of all bases: what can be grafted elsewhere."""
    found: dict[str, tuple[str, Any]] = {}
    for text, _ in bases().values():
        for holder, key in places(tomli.loads(text)):
            if isinstance(key, str):
                found.setdefault(f"{key} {json.dumps(holder[key], default=str)[:200]}", (key, holder[key]))
    return tuple(found.values())


def places(tree: Any) -> list[tuple[Any, Any]]:
    """Each value of ``tree`` as what holds it and the key or index there."""
    found, open_ = [], [tree]
    while open_:
        holder = open_.pop()
        keys = list(holder) if isinstance(holder, dict) else range(len(holder))
        for key in keys:
            found.append((holder, key))
            if isinstance(holder[key], (dict, list)):
                open_.append(holder[key])
    return found


def toml(tree: dict[str, Any]) -> str:
    """``tree`` as TOML: tables to the second level, inline below."""
    rows: list[str] = []
    _write_table((), tree, rows)
    return "\n".join(rows) + "\n"


def _write_table(path: tuple[str, ...], table: dict[str, Any], rows: list[str]) -> None:
    below = {key: value for key, value in table.items() if isinstance(value, dict) and len(path) < 2}
    if path:
        rows.append(f"[{'.'.join(map(_text, path))}]")
    rows.extend(f"{_text(key)} = {_value(value)}" for key, value in table.items() if key not in below)
    for key, value in below.items():
        _write_table((*path, key), value, rows)


def _text(value: str) -> str:
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def _value(value: Any) -> str:
    if isinstance(value, Raw):
        return str(value)
    if isinstance(value, dict):
        return "{" + ", ".join(f"{_text(key)} = {_value(each)}" for key, each in value.items()) + "}"
    if isinstance(value, list):
        return "[" + ", ".join(map(_value, value)) + "]"
    if isinstance(value, str):
        return _text(value)
    if isinstance(value, bool):
        return str(value).lower()
    return str(value) if isinstance(value, float) and not math.isfinite(value) else repr(value)


def _leave_out(tree: Any, chance: random.Random) -> None:
    holder, key = chance.choice(places(tree))
    del holder[key]


def _say_twice(tree: Any, chance: random.Random) -> None:
    holder, key = chance.choice(places(tree))
    if isinstance(holder, dict):
        holder[chance.choice([f"{key}_2", key.upper(), f"{key}_left", *TEXTS])] = copy.deepcopy(holder[key])
    else:
        holder.insert(key, copy.deepcopy(holder[key]))


def _exchange(tree: Any, chance: random.Random) -> None:
    (one, here), (other, there) = chance.choice(places(tree)), chance.choice(places(tree))
    first, second = copy.deepcopy(one[here]), copy.deepcopy(other[there])
    other[there] = first
    if one is not first:
        one[here] = second


def _other_kind(tree: Any, chance: random.Random) -> None:
    holder, key = chance.choice(places(tree))
    holder[key] = chance.choice(
        [*NUMBERS, *TEXTS, True, [], {}, [[]], [0, 0, 0], math.nan, math.inf, Raw(chance.choice(RAWS)), [holder[key]]]
    )


def _alter_number(tree: Any, chance: random.Random) -> None:
    numbers = [(holder, key) for holder, key in places(tree) if type(holder[key]) in (int, float)]
    if numbers:
        holder, key = chance.choice(numbers)
        value = holder[key]
        ways = (-value, value * 10.0 ** chance.randint(-12, 12), value + chance.gauss(0, 10), value + 1e-7, str(value))
        holder[key] = chance.choice([*ways, chance.choice(NUMBERS)])


def _arithmetic(tree: Any, chance: random.Random) -> None:
    numbers = [(holder, key) for holder, key in places(tree) if type(holder[key]) in (int, float)]
    if numbers:
        holder, key = chance.choice(numbers)
        names = [*tree.get("dimensions", {}), "nothing"] if isinstance(tree.get("dimensions", {}), dict) else ["a"]
        holder[key] = chance.choice(EXPRESSIONS).replace("{0}", str(chance.choice([*names, holder[key]])))


def _other_reference(tree: Any, chance: random.Random) -> None:
    texts = [(holder, key) for holder, key in places(tree) if isinstance(holder[key], str)]
    if texts:
        (holder, key), (other, there) = chance.choice(texts), chance.choice(texts)
        holder[key] = chance.choice(
            [other[there], holder[key][:-1], holder[key] + chance.choice(TEXTS), holder[key] * 40]
        )


def _rename(tree: Any, chance: random.Random) -> None:
    named = [(holder, key) for holder, key in places(tree) if isinstance(holder, dict)]
    if named:
        holder, key = chance.choice(named)
        holder[chance.choice([*TEXTS, *ENDS, f"{key}_{chance.choice(ENDS)}", key * 60])] = holder.pop(key)


def _mirror(tree: Any, chance: random.Random) -> None:
    tree["mirror"] = chance.choice(
        [{"left": "right"}, {"left": "left"}, {"": ""}, {"a": "b"}, {"left": "right", "a": "e"}]
    )
    for section in ("points", "parts", "joints", "stops"):
        table = tree.get(section)
        if isinstance(table, dict) and table and chance.random() < 0.6:
            name = chance.choice(list(table))
            table[f"{name}_{chance.choice(ENDS)}"] = table.pop(name)


def _graft(tree: Any, chance: random.Random) -> None:
    key, value = chance.choice(vocabulary())
    holders = [tree, *(holder[place] for holder, place in places(tree) if isinstance(holder[place], dict))]
    chance.choice(holders)[key] = copy.deepcopy(value)


def _go_round(tree: Any, chance: random.Random) -> None:
    names = [f"ring_{k}" for k in range(chance.choice([1, 2, 3, 400]))]
    kinds: list[tuple[str, Callable[[str], Any]]] = [
        ("dimensions", lambda name: f"{name} + 1"),
        ("points", lambda name: {"from": name, "along": [1, 0, 0], "by": 1}),
        ("parts", lambda name: {"shapes": [{"rod": [name, name], "diameter": name}]}),
    ]
    section, value = chance.choice(kinds)
    table = tree.setdefault(section, {})
    if isinstance(table, dict):
        table.update({name: value(after) for name, after in zip(names, names[1:] + names[:1], strict=True)})


def _nest(tree: Any, chance: random.Random) -> None:
    holder, key = chance.choice(places(tree))
    word = chance.choice(["cut", "joined", "shapes", "value"])
    for _ in range(chance.choice([1, 5, 40, 150])):
        holder[key] = chance.choice([[holder[key]], {word: holder[key]}, {word: [holder[key]]}])


def _link(tree: Any, chance: random.Random) -> None:
    parts = tree.get("parts")
    if isinstance(parts, dict) and parts and isinstance(part := parts[chance.choice(list(parts))], dict):
        file = chance.choice(
            ["m.toml", "/dev/zero", "..", ".", "none.stl", "cube.obj", "cube.STL", "a\nb.stl", "x" * 300 + ".stl", "/"]
        )
        entry = {"file": file, "scale": chance.choice([1, 1e-6, 1e9, -1]), "unit": chance.choice(["mm", "m", "ell"])}
        part["meshes"] = [entry, *(part["meshes"] if isinstance(part.get("meshes"), list) else [])]


def _hold(tree: Any, chance: random.Random) -> None:
    """A part fixed or let go, two parts welded."""
    parts = tree.get("parts")
    if isinstance(parts, dict) and parts and isinstance(part := parts[chance.choice(list(parts))], dict):
        if chance.random() < 0.7:
            part["fixed"] = not part.get("fixed", False)
        elif isinstance(joints := tree.setdefault("joints", {}), dict):
            joints["weld_2"] = {"welded": [chance.choice(list(parts)), chance.choice(list(parts))]}


def _may_change(tree: Any, chance: random.Random) -> None:
    """Dimensions that may be changed, between limits, in steps or to sizes, right and wrong."""
    table = tree.setdefault("dimensions", {})
    if isinstance(table, dict):
        table.setdefault("spare", 10)
        name = chance.choice(list(table))
        value = table[name].get("value", 1) if isinstance(table[name], dict) else table[name]
        number = value if type(value) in (int, float) and math.isfinite(value) else 10
        near: list[Any] = [number - 5, number, number + 1, 2 * number, -number, *NUMBERS, "spare", math.nan, True, []]
        table[name] = {"value": value, "may_be": [chance.choice(near), number + chance.choice([0, 1, 5, 1e6])]}
        for key in ("step", "weight", "plus_minus"):
            if chance.random() < 0.4:
                table[name][key] = chance.choice(near)
        if chance.random() < 0.3:
            table[name]["sizes"] = [chance.choice(near) for _ in range(chance.choice([0, 1, 3, 400]))]
            if chance.random() < 0.7:
                del table[name]["may_be"]


DEEPEST = 20_000
STRUCTURAL = (
    _leave_out, _say_twice, _exchange, _other_kind, _alter_number, _alter_number, _alter_number, _arithmetic,
    _other_reference, _rename, _mirror, _graft, _graft, _go_round, _nest, _link, _may_change,
    _hold, measure, measure, reading, reading, rod, wheels, cable, tolerances,
)  # fmt: skip


def altered_tree(text: str, chance: random.Random) -> tuple[bytes, str]:
    """``text`` with one to four alterations of its tables and values, and their names."""
    tree, done = tomli.loads(text), []
    with _deep_calls():
        for _ in range(chance.choice([1, 1, 1, 1, 2, 4])):
            if places(tree):
                alter = chance.choice(STRUCTURAL)
                alter(tree, chance)
                done.append(alter.__name__)
        return toml(tree).encode("utf-8", "surrogatepass"), ", ".join(done)


@contextmanager
def _deep_calls() -> Iterator[None]:
    """Calls may go deeper here, for trees that were nested several times; not in the program that is tried."""
    usual = sys.getrecursionlimit()
    sys.setrecursionlimit(DEEPEST)
    try:
        yield
    finally:
        sys.setrecursionlimit(usual)


def altered_text(text: str, chance: random.Random) -> tuple[bytes, str]:
    """``text`` with lines or bytes altered, and how."""
    lines = text.split("\n")
    way = chance.choice(["twice", "gone", "exchanged", "cut off", "bytes", "number", "wide"])
    one, other = chance.randrange(len(lines)), chance.randrange(len(lines))
    if way == "twice":
        lines[one:one] = [lines[other]] * chance.choice([1, 1, 50])
    elif way == "gone":
        del lines[one : one + chance.choice([1, 1, 3])]
    elif way == "exchanged":
        lines[one], lines[other] = lines[other], lines[one]
    elif way == "wide":
        lines[one] += chance.choice(["\r", "\0", "\u2028", "\ufeff", " " * 5000, "#" * 5000, "=1", "\\", '"', "]]"])
    text = "\n".join(lines)
    if way == "number":
        text = re.sub(r"\d+", lambda old: old[0] if chance.random() < 0.9 else str(chance.choice(NUMBERS)), text)
    data = bytearray(text.encode())
    if way == "cut off":
        del data[chance.randrange(len(data)) :]
    elif way == "bytes":
        for _ in range(chance.choice([1, 3, 30])):
            data[chance.randrange(len(data))] = chance.randrange(256)
    return bytes(data), way


def planted(text: str, chance: random.Random) -> tuple[bytes, str] | None:
    """``text`` with a box of one part drawn round a whole box of another, so that they overlap at rest.

    None where the machine has no two parts for it. The box that is drawn round holds all of the other, and neither
    shape names a seat, so that nothing of the overlap can be left out.
    """
    tree = tomli.loads(text)
    parts = tree["parts"]
    if (
        "mirror" in tree
        or "set_length" in text
        or "ignore" in text
        or "welded" in text
        or "bolted" in text
        or "seat" in tree.get("clearance", {})
    ):
        return None
    inner = [
        (name, shape)
        for name, part in parts.items()
        for shape in part.get("shapes", [])
        if {"box", "size"} <= set(shape) <= {"box", "size", "name"} and _plain([*shape["box"], *shape["size"]])
    ]
    outer = [name for name, part in parts.items() if part.get("shapes") and "points" not in part]
    pairs = [(name, shape, other) for name, shape in inner for other in outer if other != name]
    if not pairs:
        return None
    name, shape, other = chance.choice(pairs)
    size = [2 * value + chance.uniform(0, 5) for value in shape["size"]]
    parts[other]["shapes"].append({"name": "planted", "box": shape["box"], "size": size})
    return toml(tree).encode(), f"{other} drawn round a box of {name}"


def _plain(values: Any) -> bool:
    return all(type(value) in (int, float) for value in values) and len(values) == 6
