"""Records made by hand, as small as may be, for what reads records and computes nothing."""

from dataclasses import replace

from assembly.record import (
    DriveEntry,
    JointEntry,
    MachineEntry,
    OverlapEntry,
    PairEntry,
    ProgramEntry,
    Record,
    RodEntry,
    SolidEntry,
    WorkEntry,
)

AT = {"push": 3.0}


def pair(a, b, least, proven=None, **changed):
    """A pair that was found ``least`` mm apart, closed in on to .05 mm; below zero it overlaps by as much."""
    overlap = None
    if least is not None and least < 0:
        overlap = OverlapEntry(AT, -least, (0.0, 1.0, 0.0), 1.0, (0.0, 0.0, 0.0), "", 0.1 - least)
        least, proven = 0.0, -1e-6
    given = {
        "a": a,
        "b": b,
        "shape_a": f"{a} shape",
        "shape_b": f"{b} shape",
        "required_mm": 1.0,
        "least_mm": least,
        "proven_mm": least - 0.05 if proven is None and least is not None else proven,
        "at": AT,
        "point_a": None,
        "point_b": None,
        "verdict": "fails" if overlap or (least is not None and least < 1.0) else "clear",
        "why": "",
        "overlap": overlap,
        "gap_seat": None,
        "surface_error_mm": 0.0,
        "swallowed": False,
        "terms": None,
        "region": None,
        "first_contacts": (),
    }
    given = {**given, **changed}
    least, proven = given["least_mm"], given["proven_mm"]
    bracketed = least is not None and proven is not None and least - proven <= max(0.12, 0.02 * least)
    return PairEntry(**{"closed_in": bracketed, **given})


def joint(name, reserve, limit=20.0, **changed):
    """A rod end's misalignment with its margin."""
    given = {
        "name": name,
        "kind": "ball",
        "motion": "misalignment",
        "first": "rod",
        "second": "arm",
        "unit": "deg",
        "least": 0.0,
        "most": limit - reserve,
        "at_least": AT,
        "at_most": AT,
        "proven_least": 0.0,
        "proven_most": limit - reserve,
        "limit": limit,
        "reserve": reserve,
        "at": AT,
        "limit_low": None,
        "limit_high": limit,
        "reserve_low": None,
        "reserve_high": reserve,
        "limiter": "",
        "spent": 0.0,
        "rolls": False,
        "roll": 0.0,
        "verdict": "clear" if reserve >= 0 else "fails",
        "halves": (),
    }
    return JointEntry(**{**given, **changed})


def rod(name, free, verdict="clear", ends=("one", "other"), at=None):
    return RodEntry((name,), ends, 9, free, at or AT, 0.0, free / 2, ends[0], 1.0, None, None, verdict)


WORK = WorkEntry(
    poses=1,
    distance_queries=1,
    query_seconds=0.0,
    cells=1,
    seconds={},
    cores=1,
    triangles=24,
    bracket_mm=0.1,
    bracket_share=0.02,
    budget_s=None,
    stopped="",
    joint_settings=0,
)


def record(*pairs, **changed):
    """A record of ``pairs``; its verdict is the worst of theirs."""
    words = {one.verdict for one in pairs}
    names = dict.fromkeys(name for one in pairs for name in (one.a, one.b))
    given = {
        "format": 1,
        "program": ProgramEntry("swingroom", "0.1.0"),
        "machine": MachineEntry("Slider", "slider.toml", "d" * 64, {"slider.toml": "d" * 64}),
        "made": "2026-03-01T02:00:00+00:00",
        "drives": {"push": DriveEntry(-5.0, 8.0, "mm")},
        "verdict": "fails" if "fails" in words else "undecided" if "undecided" in words else "clear",
        "reason": f"{len(pairs)} pairs",
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
        "parts": {name: SolidEntry(12, (10.0, 20.0, 30.0)) for name in names},
    }
    return Record(**{**given, **changed})


def with_work(given, **changed):
    """The same record of a run with another effort or end."""
    return replace(given, work=replace(given.work, **changed))


def large_record(pairs=300):
    """A record of several database pages, so that writing it takes a while."""
    return record(*(pair(f"part_{k}", f"part_{k + 1}", 2.0 + k / 7) for k in range(pairs)))
