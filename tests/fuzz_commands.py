"""Command lines made and altered by chance, for the fuzz; all that they name lies in the try's own folder."""

import random

PLACES = (
    "out",
    "a/b/c",
    "..",
    ".",
    "m.toml",
    "m.toml/x",
    "/dev/null",
    "",
    "x" * 300,
    "a b",
    "a\nb",
    "ü",
    "-",
    "--",
    "~",
    "nul\u202e",
)
NUMBERS = (
    "0",
    "-1",
    "1",
    "2",
    "nan",
    "inf",
    "-inf",
    "1e999",
    "1e-999",
    "9" * 30,
    "0x10",
    "1,5",
    "",
    " ",
    "½",
    "1e3",
    "--",
    "a",
)
NAMES = (
    "crank",
    "head",
    "frame",
    "nothing",
    "",
    "x=1",
    "crank=nan",
    "crank=1e9",
    "=",
    "head=-5",
    "crank=",
    "a=b=c",
    "push=3",
    "\x1b[2J",
)
SIZES = ("", "0", "1", "-1GB", "64MB", "1e400GB", "9" * 40, "nanMB", "5 %", "200KB", "1TB", "GB", "\u00bdGB")
ADDRESSES = (
    "",
    " ",
    ":",
    "x",
    "tcp://",
    "tcp://127.0.0.1:1",
    "127.0.0.1:99999",
    "tls://127.0.0.1:1",
    "http://[",
    "a\nb",
)
"""None that anything listens at."""
LISTS = ("list.csv", "list.toml")
VALUES = {
    "--within": NUMBERS, "--time-limit": NUMBERS, "--cores": NUMBERS, "--grid": NUMBERS, "--allow-loss": NUMBERS,
    "--runs": NUMBERS, "--run": (*NUMBERS, *NAMES), "--film-drive": NAMES, "--seconds": NUMBERS,
    "--size": ("16x16", "0x0", "1e3x9", "x", "99999999x1", "-1x-1"),
    "--set": NAMES, "--step": NAMES, "--height": NAMES, "--part": NAMES, "--case": NAMES, "--view": ("top", "up", ""),
    "--vary": (*NAMES, "crank=1,2", "head=0:4:2", "head=9:0:0", "head=0:1e9:1e-9", "crank=1,2 half turns of M8"),
    "--list": (*PLACES, *LISTS), "--most": NUMBERS, "--to": NUMBERS, "--clearance": NUMBERS, "--memory": SIZES,
    "--change": (*NAMES, "bar", "points.tip[0]"), "--joint": NAMES, "--cluster": ADDRESSES, "--pair": NAMES,
    "--out": PLACES, "--history": PLACES, "--junit": PLACES, "--stl": (*PLACES, "pad.stl"), "--mesh-limit": NUMBERS,
    "--rod": NAMES, "--length": NUMBERS, "--measure": NAMES, "--along": (*NAMES, "push"),
    "--toe": NUMBERS, "--machines": NUMBERS, "--seed": NUMBERS,
    "--down": (*NAMES, "crank"), "--across": (*NAMES, "head"), "--reading": NAMES, "--error": NUMBERS,
    "--angle-error": NUMBERS, "--radius": NUMBERS, "--hold": NAMES,
    "--kind": (*NAMES, "leaning_pair", "boat"), "--fitted": (*PLACES, "fitted.toml", "m.toml", "a/b/fitted.toml"),
}  # fmt: skip
FLAGS = (
    "--csv",
    "--map",
    "--json",
    "--swept",
    "--no-picture",
    "--recompute",
    "--keep",
    "--svg",
    "--still",
    "--plain",
    "--worst",
    "--no-range",
    "--help",
    "--version",
    "--nothing",
    "-h",
    "-v",
    "--all",
    "--page",
    "--no-stops",
    "--film-round",
    "--ends",
    "--transparent",
    "--over-range",
    "--spread",
    "--no-sweep",
)
COMMANDS = (
    "sweep",
    "inspect",
    "pose",
    "loads",
    "range",
    "stop",
    "map",
    "export",
    "history",
    "compare",
    "nightly",
    "new",
    "page",
    "variants",
    "helps",
    "propose",
    "grind",
    "picture",
    "measures",
    "rods",
    "wheels",
    "weights",
    "cables",
    "spread",
    "play",
    "measured",
    "checks",
    "schema",
)
QUICK = ("inspect", "pose", "loads", "export", "history", "new", "rods", "weights", "play")
"""Commands that answer in a moment for any machine."""
DRAWING = ("pose", "stop", "page", "nightly", "grind")
"""Commands that draw unless they are told not to, where there is OpenGL."""
FILES = (
    "m.toml",
    "m.toml",
    "m.toml",
    ".",
    "none.toml",
    "",
    "cube.obj",
    "/dev/null",
    "m.toml/",
    "x" * 300,
    "\udcff.toml",
    "-",
)


LIMITED = ("sweep", "page", "compare", "nightly", "watch", "variants", "helps", "propose", "grind", "checks")
"""Commands that are given a second."""


def plain(command: str) -> list[str]:
    """The command on the try's machine, in one process, in little time and without pictures."""
    line = [command, "m.toml"]
    if command == "variants":
        line += ["--vary", "crank=1,2"]
    if command in (*LIMITED, "measures", "measured", "cables"):
        line += ["--time-limit", "1"]
    if command in (*LIMITED, "range", "stop", "map"):
        line += ["--cores", "1"]
    if command in ("helps", "propose"):
        line += ["--most", "1"]
    if command in ("sweep", "variants", *DRAWING):
        line.append("--no-picture")
    if command == "measured":
        line.append("--no-sweep")
    if command in ("map", "range"):
        line += ["--grid", "4"]
    if command == "picture":
        line += ["--size", "64x48", "--out", "picture.png"]
    return line


def altered_list(chance: random.Random) -> bytes:
    """Rows of numbers for ``variants``, as CSV or TOML, right and wrong."""
    names = [chance.choice([*NAMES, "name", "crank", "bar"]) for _ in range(chance.randrange(1, 4))]
    rows = [[chance.choice([*NUMBERS, "1", "2.5", ""]) for _ in names] for _ in range(chance.choice([0, 1, 2, 3, 300]))]
    between = chance.choice(",;\t")
    if chance.random() < 0.5:
        text = "\n".join(between.join(row) for row in [names, *rows])
    else:
        sets = [", ".join(f"{name!r} = {value}" for name, value in zip(names, row, strict=True)) for row in rows]
        text = "\n".join(f"[[variants]]\nset = {{ {each} }}" for each in sets)
    data = bytearray(text.encode("utf-8", "surrogatepass"))
    if data and chance.random() < 0.3:
        data[chance.randrange(len(data))] = chance.randrange(256)
    return bytes(data)


def altered_line(chance: random.Random, commands: tuple[str, ...]) -> list[str]:
    """A command line with options, values and files that are right, wrong, missing or said twice."""
    command = chance.choice(commands)
    line = plain(command)
    line[1] = chance.choice(FILES)
    for _ in range(chance.choice([0, 1, 1, 2, 4])):
        option = chance.choice([*VALUES, *FLAGS])
        line.append(option)
        if option in VALUES and chance.random() < 0.95:
            line.append(chance.choice(VALUES[option]))
    if chance.random() < 0.2:
        line.insert(chance.randrange(len(line)), chance.choice([*NAMES, *FLAGS, *PLACES]))
    if chance.random() < 0.1:
        del line[chance.randrange(len(line))]
    if "--pair" in line and chance.random() < 0.7:
        line.insert(line.index("--pair") + 1, chance.choice(("frame", "block", "rail", "post", "arm")))
    if "picture" in line and {"--film-round", "--film-drive", "--ends", "--seconds"} & set(line):
        line.remove("picture")  # a film takes minutes without a graphics card
    return line
