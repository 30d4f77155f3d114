"""Machines with cables: arms on pins, whose cables have closed forms."""

from small_machines import HERE

from assembly.model.reader import machine_from_text

BOX = "size = [4, 4, 4]"
BARS = f"""
format = 1
name = "Bars"
[points]
pivot = [0, 0, 0]
stop = [250, 0, 0]
anchor = ["80 * cos(60)", "80 * sin(60)", 0]
[parts.frame]
fixed = true
shapes = [{{ box = [250, 0, -50], {BOX} }}]
[parts.bars]
shapes = [{{ box = [0, 0, 50], {BOX} }}]
[joints.pivot]
pin = ["frame", "bars"]
at = "pivot"
along = [0, 0, 1]
[drives.swing]
turns = {{ pivot = 1 }}
range = [LOW, HIGH]
"""
"""An arm of 80 on a pin at the origin, drawn 60 degrees from the line to a stop of the frame at 250 (TC-04)."""
ENDS = '{ on = "frame", at = "stop" }, { on = "bars", at = "anchor" }'


def bars_text(cables, low=-45, high=45):
    return BARS.replace("LOW", f"{low}").replace("HIGH", f"{high}") + cables


def bars(cables, low=-45, high=45):
    return machine_from_text(bars_text(cables, low, high), HERE)


HINGED = f"""
format = 1
name = "Hinged"
[parts.frame]
fixed = true
shapes = [{{ box = [-200, 0, -50], {BOX} }}]
[parts.arm]
shapes = [{{ box = [200, 0, 50], {BOX} }}]
[joints.pivot]
pin = ["frame", "arm"]
at = [0, 0, 0]
along = [0, 0, 1]
[drives.swing]
turns = {{ pivot = 1 }}
range = [LOW, HIGH]
"""
"""An arm along x on a pin at the origin: a hose from 200 behind the pin over it to 200 ahead turns with the drive."""
OVER_THE_PIN = '{ on = "frame", at = [-200, 0, 0] }, { on = "frame", at = [0, 0, 0] }, { on = "arm", at = [200, 0, 0] }'


def hinged(cables, low=-90, high=90):
    return machine_from_text(HINGED.replace("LOW", f"{low}").replace("HIGH", f"{high}") + cables, HERE)
