"""Records made by hand for tests of views: nothing is swept."""

from assembly.record import (
    DriveEntry,
    JointEntry,
    MachineEntry,
    NotCheckedEntry,
    OverlapEntry,
    PairEntry,
    ProgramEntry,
    Record,
    RodEntry,
    UnreachableEntry,
    WorkEntry,
)

WORK = WorkEntry(
    poses=0,
    distance_queries=0,
    query_seconds=0.0,
    cells=0,
    seconds={},
    cores=1,
    triangles=0,
    bracket_mm=0.1,
    bracket_share=0.02,
    budget_s=None,
    stopped="",
    joint_settings=0,
)


def pair(a="frame", b="wheel", least=5.0, verdict="clear", **changed):
    fields = {
        "a": a,
        "b": b,
        "shape_a": "",
        "shape_b": "",
        "required_mm": 3.0,
        "least_mm": least,
        "proven_mm": least,
        "at": {"tilt": -12.5, "steer": 0.0},
        "point_a": (1.0, 2.0, 3.0),
        "point_b": (1.0, 2.0, 8.0),
        "verdict": verdict,
        "why": "",
        "overlap": None,
        "gap_seat": None,
        "surface_error_mm": 0.0,
        "swallowed": False,
        "terms": None,
        "region": None,
        "first_contacts": (),
    }
    return PairEntry(**fields | changed)


def overlap(depth=2.0):
    return OverlapEntry({"tilt": 20.0, "steer": 0.0}, depth, (0.0, 0.0, 1.0), 10.0, (0.0, 0.0, 0.0))


def joint(name="lower_ball", reserve=4.0, limit=22.0, verdict="clear"):
    at = {"tilt": 30.0, "steer": 0.0}
    return JointEntry(
        name=name,
        kind="ball",
        motion="lean",
        first="arm",
        second="upright",
        unit="deg",
        least=0.0,
        most=limit - reserve,
        at_least=at,
        at_most=at,
        proven_least=0.0,
        proven_most=limit - reserve,
        limit=limit,
        reserve=reserve,
        at=at,
        limit_low=None,
        limit_high=limit,
        reserve_low=None,
        reserve_high=reserve,
        limiter="",
        spent=None,
        rolls=False,
        roll=0.0,
        verdict=verdict,
        halves=(),
    )


def rod(verdict="clear"):
    at = {"tilt": 30.0, "steer": 0.0}
    return RodEntry(
        ("tie_rod",), ("tie_inner", "tie_outer"), 9, 1.0, at, 0.0, 1.0, "tie_inner", 1.0, None, None, verdict
    )


def lost(share):
    return UnreachableEntry({"tilt": 30.0, "steer": 0.0}, ("arm_pin", "lower_ball"), 0.0, share, "it locks here")


def record(pairs=(), verdict="clear", made="2026-03-01T03:10:00+00:00", **changed):
    fields = {
        "format": 1,
        "program": ProgramEntry("swingroom", "0"),
        "machine": MachineEntry("Trike", "trike.toml", "0" * 64, {}),
        "made": made,
        "drives": {"tilt": DriveEntry(-30.0, 30.0, "deg"), "steer": DriveEntry(-35.0, 35.0, "deg")},
        "verdict": verdict,
        "reason": "all pairs are proven over the whole range",
        "pairs": tuple(pairs),
        "not_checked": (),
        "joints": (),
        "first_out": (),
        "rods": (),
        "freedoms": (),
        "unreachable": (),
        "unreachable_share": 0.0,
        "assembled": (),
        "findings": (),
        "measures": (),
        "stops": (),
        "work": WORK,
    }
    return Record(**fields | changed)


def not_checked(reason="bolted together"):
    return NotCheckedEntry("seat", "frame", reason)
