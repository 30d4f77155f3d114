"""Tables of measures, readings, rods, wheels, cables and tolerances that the fuzz adds to files, right and wrong."""

import random
from typing import Any

NUMBERS = (0, -0.0, 1, -1, 0.5, 90, 180, 360, -720, 1e-9, 1e-300, 5e-324, 1e9, 1e12, 1e300, 2**31, 2**63, -(2**70))


def _feature(tree: Any, chance: random.Random) -> Any:
    """A point, line, plane or direction of a part, right and wrong."""
    at: list[Any] = [[0, 0, 0], [1, 0, 0], [0, 30, 0], [0, 0, 50], *(list(tree.get("points") or [])), "nothing", 5]
    on = chance.choice([*(list(tree.get("parts") or [])), "ground", "nothing"])
    made = chance.choice(
        [
            {"at": chance.choice(at)},
            {"line": [chance.choice(at), chance.choice(at)]},
            {"at": chance.choice(at), "along": chance.choice(at)},
            {"along": chance.choice(at)},
            {"plane": [chance.choice(at) for _ in range(3)]},
            {"at": chance.choice(at), "normal": chance.choice(at)},
        ]
    )
    return {"on": on, **made}


def measure(tree: Any, chance: random.Random) -> None:
    """A measure of each kind, with limits or without."""
    features = [_feature(tree, chance), _feature(tree, chance)]
    kind = chance.choice(["angle", "distance", "coordinate", "level"])
    made: dict[str, Any] = {kind: features if kind in ("angle", "distance") else features[0]}
    if chance.random() < (0.9 if kind == "coordinate" else 0.3):
        made["along" if kind == "coordinate" else "about"] = chance.choice([[0, 0, 1], [1, 0, 0], features[1]])
    for key in ("least", "most"):
        if chance.random() < 0.4:
            made[key] = chance.choice([0, 30, 90, -5, 180, *NUMBERS])
    if isinstance(table := tree.setdefault("measures", {}), dict):
        table[chance.choice(["reach", "lean", "reach_left", ""])] = made


def reading(tree: Any, chance: random.Random) -> None:
    """A reading of each kind, and a number that may not be as drawn."""
    features = [_feature(tree, chance), _feature(tree, chance)]
    kind = chance.choice(["angle", "distance", "distance", "coordinate", "level"])
    made: dict[str, Any] = {kind: features if kind in ("angle", "distance") else features[0]}
    if kind == "coordinate":
        made["along"] = [0, 0, 1]
    made |= {"reading": chance.choice([50, 120.4, *NUMBERS]), "plus_minus": chance.choice([0.5, 0.5, 1, *NUMBERS])}
    drives = list(table) if isinstance(table := tree.get("drives"), dict) else []
    if chance.random() < 0.5:
        made["at"] = {chance.choice([*drives, "nothing"]): chance.choice([0, 5, -5, *NUMBERS])}
    if isinstance(table := tree.setdefault("measured", {}), dict):
        table[chance.choice(["first", "second", "third_left", ""])] = made
    off = chance.choice([5, 2, [1, 0, 1], [1, 2], *NUMBERS])
    if isinstance(points := tree.get("points"), dict) and points and chance.random() < 0.6:
        name = chance.choice(list(points))
        points[name] = {"at": points[name], "may_differ": off}
    if isinstance(own := tree.get("dimensions"), dict) and own and chance.random() < 0.6:
        name = chance.choice(list(own))
        own[name] = (
            {**own[name], "may_differ": off} if isinstance(own[name], dict) else {"value": own[name], "may_differ": off}
        )


def rod(tree: Any, chance: random.Random) -> None:
    """A rod that is screwed together, of parts and joints that are there."""
    names = [list(table) if isinstance(table := tree.get(section), dict) else [] for section in ("parts", "joints")]
    if not all(names):
        return
    ends = [
        {
            "joint": chance.choice(names[1]),
            "size": chance.choice(["M8", "M6", "M8x1", "M7", "", "M1e3"]),
            "hand": chance.choice(["right", "left", "both"]),
            "lock_nut": chance.choice(["ISO 4032", "ISO 4035", "none", {"across_flats": 13, "height": 5}]),
        }
        for _ in range(chance.choice([2, 2, 2, 2, 1, 3]))
    ]
    made = {"part": chance.choice(names[0]), "tube_length": chance.choice([50, 166.2, *NUMBERS]), "ends": ends}
    if chance.random() < 0.6:
        made["rules"] = [chance.choice(["1 d in steel", "5 turns", "captive", "8 mm", "x", {"name": "a", "turns": 8}])]
    if isinstance(table := tree.setdefault("rods", {}), dict):
        table[chance.choice([made["part"], "rod"])] = made


def wheels(tree: Any, chance: random.Random) -> None:
    """Three wheels or so on parts that are there, and a road that they stand on."""
    parts = list(table) if isinstance(table := tree.get("parts"), dict) else []
    if not parts or not isinstance(made := tree.setdefault("wheels", {}), dict):
        return
    for number in range(chance.choice([1, 2, 3, 3, 3, 4])):
        across = chance.choice([-300, 0, 300, *NUMBERS])
        wheel: dict[str, Any] = {
            "part": chance.choice([*parts, "ground", "nothing"]),
            "centre": [chance.choice([0, -900, 400]), across, chance.choice([0, 200, 1e6])],
            "spin": chance.choice([[0, 1, 0], [0, 1, 0.1], [0, 0, 1], [0, 0, 0]]),
            "tyre_diameter": chance.choice([410, 0, *NUMBERS]),
            "section": chance.choice([47, 300, *NUMBERS]),
        }
        if chance.random() < 0.5:
            wheel["rim_diameter"] = chance.choice([305, 500, *NUMBERS])
        if chance.random() < 0.5:
            wheel["kingpin"] = [[0, 200, 0], chance.choice([[0, 190, 100], [0, 200, 0], "nothing"])]
        if chance.random() < 0.3:
            wheel["limits"] = {chance.choice(["toe", "camber", "trail", "x"]): chance.choice([[-5, 5], [5, -5], 3])}
        made[f"wheel_{number}"] = wheel


def cable(tree: Any, chance: random.Random) -> None:
    """A cable of a run or two, and a splitter that leads to it."""
    parts = list(table) if isinstance(table := tree.get("parts"), dict) else []
    if not parts or not isinstance(made := tree.setdefault("cables", {}), dict):
        return
    places = [[0, 0, 0], [30, 0, 0], [60, 40, 0], [90, 40, 50], *(list(tree.get("points") or [])), "nothing"]
    runs = []
    for _ in range(chance.choice([1, 1, 2, 0])):
        through = [
            {"on": chance.choice([*parts, "ground", "nothing"]), "at": chance.choice(places)}
            for _ in range(chance.choice([1, 2, 3, 4]))
        ]
        run: dict[str, Any] = {"through": through}
        for key, values in (("bend", [5, 1000]), ("outer", [200, "to cut", "cut"]), ("slack", [5]), ("diameter", [5])):
            if chance.random() < 0.5:
                run[key] = chance.choice([*values, *NUMBERS])
        runs.append(run)
    made["pull"] = {"runs": runs}
    for key in ("friction", "free_play", "full_pull", "inner"):
        if chance.random() < 0.4:
            made["pull"][key] = chance.choice([0.1, 2, 300, *NUMBERS])
    if chance.random() < 0.4 and isinstance(splitters := tree.setdefault("splitters", {}), dict):
        splitters["beam"] = {"to": ["pull", chance.choice(list(made))], "pulls": [5, 5], "travel": 20, "force": 100}


def tolerances(tree: Any, chance: random.Random) -> None:
    """A class of general tolerances, known or not."""
    tree["tolerances"] = chance.choice([{"general": "m"}, {"general": "c"}, {"general": "x"}, {}, {"general": 5}, []])
