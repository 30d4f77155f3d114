"""Records of a machine with two drives, made by hand for tests of views: nothing is swept."""

import records

from assembly.record import DriveEntry, MachineEntry, NotCheckedEntry, OverlapEntry, UnreachableEntry

LEANT = {"tilt": 30.0, "steer": 0.0}


def pair(a="frame", b="wheel", least=5.0, verdict="clear", **changed):
    given = {
        "shape_a": "",
        "shape_b": "",
        "required_mm": 3.0,
        "at": {"tilt": -12.5, "steer": 0.0},
        "point_a": (1.0, 2.0, 3.0),
        "point_b": (1.0, 2.0, 8.0),
        "verdict": verdict,
        "proven_mm": least,
    }
    return records.pair(a, b, least, **given | changed)


def overlap(depth=2.0):
    return OverlapEntry({"tilt": 20.0, "steer": 0.0}, depth, (0.0, 0.0, 1.0), 10.0, (0.0, 0.0, 0.0))


def joint(name="lower_ball", reserve=4.0, limit=22.0, verdict="clear"):
    settings = {"at": LEANT, "at_least": LEANT, "at_most": LEANT}
    return records.joint(name, reserve, limit, verdict=verdict, spent=None, motion="lean", **settings)


def rod(verdict="clear"):
    return records.rod("tie_rod", 1.0, verdict, ends=("tie_inner", "tie_outer"), at=LEANT)


def lost(share):
    return UnreachableEntry(LEANT, ("arm_pin", "lower_ball"), 0.0, share, "it locks here")


def record(pairs=(), verdict="clear", made="2026-03-01T03:10:00+00:00", **changed):
    given = {
        "machine": MachineEntry("Trike", "trike.toml", "0" * 64, {}),
        "made": made,
        "drives": {"tilt": DriveEntry(-30.0, 30.0, "deg"), "steer": DriveEntry(-35.0, 35.0, "deg")},
        "verdict": verdict,
        "reason": "all pairs are proven over the whole range",
    }
    return records.record(*pairs, **given | changed)


def not_checked(reason="bolted together"):
    return NotCheckedEntry("seat", "frame", reason)
