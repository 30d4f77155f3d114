"""Machines of many parts, the same at every call: many on one frame, and one small machine many times over."""

from math import ceil, sqrt

PITCH = 60.0
"""mm between neighbours."""
REACH = 32.0
"""mm: how far the end of an arm is from its pin; two neighbours' ends pass 4 mm or more from each other."""


def arms(count, low=-20.0, high=20.0):
    """``count`` arms on pins of one frame, in rows and columns, all turned by one drive, every other one backwards.

    Arms of one row point at their right neighbour's pin, whose hub they come no nearer to than at rest.
    """
    columns = ceil(sqrt(count))
    parts, joints, ratios = [], [], []
    for number in range(count):
        x, y = PITCH * (number % columns), PITCH * (number // columns)
        parts.append(
            f"[parts.arm_{number}]\nshapes = [{{ rod = [[{x}, {y}, 0], [{x + REACH}, {y}, 0]], square = 6 }}]\n"
        )
        joints.append(
            f'[joints.pin_{number}]\npin = ["frame", "arm_{number}"]\nat = [{x}, {y}, 0]\nalong = [0, 0, 1]\n'
        )
        ratios.append(f"pin_{number} = {1 if number % 2 else -1}")
    return "\n".join(
        [
            'format = 1\nname = "Arms"\n',
            "[parts.frame]\nfixed = true\n"
            f"shapes = [{{ box = [0, 0, -40], size = [{2 * PITCH * columns}, {2 * PITCH * columns}, 20] }}]\n",
            *parts,
            *joints,
            f"[drives.swing]\nturns = {{ {', '.join(ratios)} }}\nrange = [{low}, {high}]\n",
        ]
    )


def cranks(groups, drives=True):
    """A crank, a rod and a slide block, ``groups`` times side by side on one frame; each has a drive of its own.

    Without ``drives`` of their own all are turned by one.
    """
    tables = ['format = 1\nname = "Cranks"\nfacet_error = 0.2\n', _bed(groups)]
    tables += [_crank(number, 80.0 * number) for number in range(groups)]
    if drives:
        tables += [
            f"[drives.turn_{number}]\nturns = {{ shaft_{number} = 1 }}\nrange = [-30, 30]\n" for number in range(groups)
        ]
    else:
        ratios = ", ".join(f"shaft_{number} = 1" for number in range(groups))
        tables.append(f"[drives.turn]\nturns = {{ {ratios} }}\nrange = [-30, 30]\n")
    return "\n".join(tables)


def _bed(groups):
    return (
        "[parts.bed]\nfixed = true\n"
        f"shapes = [{{ box = [60, {40 * (groups - 1)}, -40], size = [300, {80 * groups + 40}, 20] }}]\n"
    )


def _crank(number, y):
    own = f"_{number}"
    return f"""
[parts.crank{own}]
shapes = [{{ rod = [[0, {y}, 0], [0, {y}, 30]], square = 6 }}]

[parts.link{own}]
shapes = [{{ rod = [[15, {y + 10}, 30], [95, {y + 10}, 5]], square = 4 }}]

[parts.block{own}]
shapes = [{{ box = [110, {y + 25}, 0], size = [20, 20, 20] }}]

[joints.shaft{own}]
pin = ["bed", "crank{own}"]
at = [0, {y}, 0]
along = [0, 1, 0]

[joints.big_end{own}]
ball = ["crank{own}", "link{own}"]
at = [0, {y + 10}, 30]

[joints.small_end{own}]
ball = ["link{own}", "block{own}"]
at = [110, {y + 10}, 0]

[joints.guide{own}]
slide = ["bed", "block{own}"]
at = [110, {y + 25}, 0]
along = [1, 0, 0]
"""
