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
VALUES = {
    "--within": NUMBERS, "--time-limit": NUMBERS, "--cores": NUMBERS, "--grid": NUMBERS, "--allow-loss": NUMBERS,
    "--runs": NUMBERS, "--run": (*NUMBERS, *NAMES), "--film-drive": NAMES, "--seconds": NUMBERS,
    "--size": ("16x16", "0x0", "1e3x9", "x", "99999999x1", "-1x-1"),
    "--set": NAMES, "--step": NAMES, "--height": NAMES, "--part": NAMES, "--case": NAMES, "--view": ("top", "up", ""),
    "--vary": NAMES, "--list": PLACES,
    "--out": PLACES, "--history": PLACES, "--junit": PLACES, "--stl": (*PLACES, "pad.stl"), "--mesh-limit": NUMBERS,
}  # fmt: skip
FLAGS = (
    "--json",
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
)
QUICK = ("inspect", "pose", "loads", "export", "history", "new")
"""Commands that answer in a moment for any machine."""
DRAWING = ("pose", "stop", "page", "nightly")
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


def plain(command: str) -> list[str]:
    """The command on the try's machine, in one process, in little time and without pictures."""
    line = [command, "m.toml"]
    if command == "variants":
        line += ["--vary", "crank=1,2"]
    if command in ("sweep", "page", "compare", "nightly", "watch", "variants"):
        line += ["--time-limit", "1"]
    if command in ("sweep", "page", "compare", "nightly", "watch", "range", "stop", "map", "variants"):
        line += ["--cores", "1"]
    if command in ("sweep", "variants", *DRAWING):
        line.append("--no-picture")
    if command in ("map", "range"):
        line += ["--grid", "4"]
    return line


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
        if option == "--pair":
            line.append(chance.choice(NAMES))
    if chance.random() < 0.2:
        line.insert(chance.randrange(len(line)), chance.choice([*NAMES, *FLAGS, *PLACES]))
    if chance.random() < 0.1:
        del line[chance.randrange(len(line))]
    if {"--film-drive", "--size"} & set(line) and "picture" in line:
        line.remove("picture")
    return line
