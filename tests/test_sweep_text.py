"""The report of a sweep: what its sentences say for each kind of result."""

import io
from dataclasses import replace
from pathlib import Path

import pytest

from assembly.record import (
    FORMAT,
    Contact,
    CureEntry,
    DriveEntry,
    FindingEntry,
    FreedomEntry,
    JointEntry,
    MachineEntry,
    MovedEntry,
    NearerEntry,
    NotCheckedEntry,
    OverlapEntry,
    PairEntry,
    ProgramEntry,
    Record,
    RegionEntry,
    UnreachableEntry,
    WorkEntry,
)
from assembly.report.render.optional_picture import with_picture
from assembly.report.text.advice import closing
from assembly.report.text.run_files import Files
from assembly.report.text.sweep_text import sweep_blocks
from assembly.report.text.terminal import write

AT = {"tilt": 27.41, "steer": 0.0}
CLEAR_PAIR = PairEntry(
    a="wheel",
    b="frame",
    shape_a="tyre",
    shape_b="frame",
    required_mm=3.0,
    least_mm=4.208,
    proven_mm=4.1049,
    at={"tilt": -30.0, "steer": 35.0},
    point_a=(0.0, 0.0, 0.0),
    point_b=(0.0, 0.0, 4.208),
    verdict="clear",
    why="proven over the whole range",
    overlap=None,
    gap_seat=None,
    surface_error_mm=0.04,
    swallowed=False,
    terms=None,
    region=None,
    first_contacts=(),
    closed_in=True,
)
STRIKE = replace(
    CLEAR_PAIR,
    a="lower_arm_left",
    b="upright_left",
    shape_a="outer bracket",
    shape_b="body",
    least_mm=0.0,
    proven_mm=-2.5,
    at=AT,
    verdict="fails",
    why="they strike",
    overlap=OverlapEntry(AT, 2.1, (0.0, 0.98, 0.199), 120.0, (1.0, 2.0, 3.0), "", 2.2),
    region=RegionEntry(0.1234, ()),
    first_contacts=(
        Contact("tilt", 1, {"tilt": 18.2, "steer": 0.0}),
        Contact("tilt", 1, {"tilt": 18.2, "steer": 35.0}),
        Contact("tilt", -1, {"tilt": -20.0, "steer": 0.0}),
    ),
)
NEAR = replace(CLEAR_PAIR, least_mm=1.318, verdict="fails", why="1.32 mm where 3 mm is required")
OPEN = replace(CLEAR_PAIR, proven_mm=2.519, verdict="undecided", why="the time limit of 10 s was reached")
LEAN = JointEntry(
    name="rod_end",
    kind="ball",
    motion="misalignment",
    first="rod",
    second="arm",
    unit="deg",
    least=0.0,
    most=25.1,
    at_least={},
    at_most=AT,
    proven_least=0.0,
    proven_most=25.21,
    limit=22.0,
    reserve=-3.1,
    at=AT,
    limit_low=None,
    limit_high=22.0,
    reserve_low=None,
    reserve_high=-3.1,
    limiter="",
    spent=0.0,
    rolls=False,
    roll=0.0,
    verdict="fails",
    halves=(),
)
CALM = replace(LEAN, name="calm_end", most=12.0, proven_most=12.04, reserve=10.0, reserve_high=10.0, verdict="clear")
PIN = replace(
    LEAN,
    name="hinge",
    kind="pin",
    motion="turn",
    limit=None,
    limit_high=None,
    reserve=None,
    reserve_high=None,
    verdict=None,
)


def record(verdict, pairs=(), **others):
    values = {
        "format": FORMAT,
        "program": ProgramEntry("swingroom", "1"),
        "machine": MachineEntry("Trike", "trike.toml", "d", {"trike.toml": "d"}),
        "made": "2030-01-01T00:00:00+00:00",
        "drives": {"tilt": DriveEntry(-30.0, 30.0, "deg"), "steer": DriveEntry(-35.0, 35.0, "deg")},
        "verdict": verdict,
        "reason": "some reason",
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
        "work": WorkEntry(10, 20, 0.5, 30, {"sweep": 1.0}, 2, 400, 0.1, 0.02, None, "", 961),
    }
    return Record(**{**values, **others})


def text_of(told, files=None):
    stream = io.StringIO()
    write(sweep_blocks(told), stream)
    write(closing(told, files or Files(), "swingroom sweep trike.toml"), stream)
    return " ".join(stream.getvalue().split())


def test_first_sentence_tells_who_strikes_whom_where_and_the_clearance_that_the_advice_is_to_give():
    lines = text_of(record("fails", [STRIKE, CLEAR_PAIR]))
    assert lines.startswith(
        "FAILS: lower_arm_left (outer bracket) strikes upright_left (body) at tilt +27.41°, steer 0°: "
        "5.10 to 5.20 mm of clearance is missing (2.10 to 2.20 mm deep, 3 mm required)"
    )
    assert "Trike: tilt −30 to +30° with steer −35 to +35°" in lines
    shift = "body comes free when moved 2.14 mm (2.10 mm to the left, 0.43 mm up)"
    assert f"at the worst setting, and there only, {shift}" in lines
    assert "[" not in lines  # a direction is told in words


def test_too_near_tells_the_gap_and_what_is_required():
    assert (
        "FAILS: wheel (tyre) comes within 1.31 mm of frame at tilt −30°, steer +35°; 3 mm is required, 1.69 mm more"
        in text_of(record("fails", [NEAR]))
    )


def test_clear_tells_the_least_room_and_never_rounds_the_proof_up():
    lines = text_of(record("clear", [CLEAR_PAIR]))
    assert "CLEAR: the pair keeps its clearance everywhere in the range, not only at positions tried" in lines
    assert (
        "wheel (tyre) to frame, 4.20 mm apart at tilt −30°, steer +35°, proven nowhere below 4.10 mm; 3 mm is required"
        in lines
    )


@pytest.mark.parametrize(("proven", "told"), [(4.0999, "4.09"), (4.1, "4.10"), (4.1001, "4.10"), (-0.001, "−0.01")])
def test_proven_figure_in_the_table_is_never_above_the_proof(proven, told):
    assert f" {told} " in text_of(record("clear", [replace(CLEAR_PAIR, proven_mm=proven)]))


FAR = replace(CLEAR_PAIR, a="shoe", least_mm=31.7159, proven_mm=8.2869, closed_in=False)


def test_clear_pair_that_was_not_closed_in_on_shows_what_is_proven_and_no_setting():
    lines = text_of(record("clear", [CLEAR_PAIR, FAR]))
    assert "CLEAR at least 8.28 8.28 3 shoe (tyre) – frame not closed in on" in lines
    assert "31.7" not in lines
    assert "--pair A B does that for one pair, with --part A for all of a part" in lines
    assert "--pair A B" not in text_of(record("clear", [CLEAR_PAIR]))
    assert "Least margin: shoe (tyre) to frame, at least 8.28 mm apart, not closed in on" in text_of(
        record("clear", [FAR])
    )
    assert "should be" not in text_of(record("clear", [FAR]))


def test_pair_that_fails_and_was_not_closed_in_on_may_come_nearer():
    lines = text_of(record("fails", [replace(NEAR, closed_in=False)]))
    assert "comes within 1.31 mm of frame at tilt −30°, steer +35°, perhaps nearer elsewhere" in lines
    assert "FAILS at most 1.32 –" in lines  # 1.318, rounded up
    assert "for at least 1.69 mm more clearance" in lines


def test_pairs_that_were_asked_for_come_first():
    asked = replace(CLEAR_PAIR, a="shoe", least_mm=47.25, proven_mm=47.2, asked=True)
    many = [replace(CLEAR_PAIR, a=f"clear{index}") for index in range(30)]
    lines = text_of(record("clear", [*many, asked]))
    assert "Pairs that were asked for (1), closed in on however far apart they are" in lines
    assert "CLEAR 47.25 47.20 3 shoe (tyre) – frame tilt −30°, steer +35°" in lines
    assert "asked for" not in text_of(record("clear", many))


@pytest.mark.parametrize("proven", [0.0, -0.0314])
def test_a_bound_that_is_no_clearance_is_not_told_as_one(proven):
    """It once was "proven only −0.04 mm"."""
    lines = text_of(record("undecided", [replace(OPEN, proven_mm=proven)]))
    assert "4.20 mm at tilt −30°, steer +35°, not proven apart, 3 mm is required." in lines


def test_undecided_tells_both_bounds_and_that_it_is_not_clear():
    lines = text_of(
        record("undecided", [OPEN], work=replace(record("clear").work, stopped="the time limit of 10 s was reached"))
    )
    assert "UNDECIDED: nothing was seen to fail, but some reason" in lines
    assert "4.20 mm at tilt −30°, steer +35°, proven only 2.51 mm, 3 mm is required" in lines
    assert "The run ended early, the time limit of 10 s was reached" in lines
    assert "larger --time-limit" in lines
    assert "treat the pairs marked UNDECIDED as not clear" in lines


def test_pair_never_looked_at_is_said():
    unseen = replace(OPEN, least_mm=None, proven_mm=None, at={}, point_a=None, point_b=None)
    assert "Not even looked at yet: wheel (tyre) and frame." in text_of(record("undecided", [unseen]))


def test_place_out_of_reach_leads_where_no_pair_fails():
    lost = UnreachableEntry({"tilt": 29.0, "steer": -3.0}, ("a", "b", "c"), 1.25, 0.9, "the loop misses by 1.25 mm")
    lines = text_of(record("fails", [CLEAR_PAIR], unreachable=(lost,) * 7, unreachable_share=0.021))
    assert "FAILS: at tilt +29°, steer −3° the loop misses by 1.25 mm (a – b – c)" in lines
    assert "Settings that cannot be reached: 2.1 % of the range" in lines
    assert "and 2 more in the record" in lines
    assert "change a length in the loop a – b – c" in lines


def test_place_that_could_not_be_proven_is_no_place_where_the_machine_folds_over():
    lost = UnreachableEntry({"tilt": 29.0, "steer": 0.0}, ("a", "b"), 0.0, 1.0, "could not be proven", ("tilt",))
    lines = text_of(record("undecided", [CLEAR_PAIR], unreachable=(lost,), unreachable_share=0.021))
    assert "tilt +29°, wherever steer stands: could not be proven (a – b)" in lines
    assert "the machine goes together at tilt +29°, wherever steer stands" in lines
    assert "fold over" not in lines
    singular = replace(lost, near_singular=True)
    lines = text_of(record("undecided", [CLEAR_PAIR], unreachable=(singular,), unreachable_share=0.021))
    assert "at tilt +29°, wherever steer stands the machine may fold over: change a length in the loop a – b" in lines


def test_loop_that_is_held_twice_and_misses_by_less_than_joints_play_is_no_place_out_of_reach():
    """0.29 µm: no reader may be reported in one line that the design fails and that this is not proven."""
    lost = UnreachableEntry({"tilt": 2.0}, ("a", "b"), 2.9e-4, 0.2, "not proven", held_twice=True)
    lines = text_of(record("undecided", [CLEAR_PAIR], unreachable=(lost,), unreachable_share=0.8))
    assert "Settings that could not be proven: 80 % of the range" in lines
    assert "the loop a – b is held by more than it needs: let a drive set only one of its joints" in lines
    assert "cannot go to" not in lines
    assert replace(lost, miss_mm=0.5).missed


def test_rod_end_past_its_rating_leads_where_nothing_else_fails():
    lines = text_of(record("fails", [CLEAR_PAIR], joints=(CALM, LEAN, PIN)))
    assert "FAILS: rod_end leans 25.1° at tilt +27.41°, steer 0°; its angle limit is 22°" in lines
    assert "PAST ITS LIMIT" in lines
    assert lines.index("rod_end 25.1°") < lines.index("calm_end 12.0°")  # the smallest reserve first
    assert "rod_end 25.1° 25.3° 22.0° −3.1° 0.0°" in lines  # what is proven is never rounded down
    assert "rod_end leans 3.1° too far" in lines
    assert "1 other motion of joints" in lines


def test_beginning_of_a_strike_is_told_once_where_other_drives_do_not_matter():
    lines = text_of(record("fails", [STRIKE]))
    assert "lower_arm_left – upright_left, in about 12.3 % of the range" in lines
    assert "tilt from 0 up: at +18.2° with steer 0° and with steer +35°" in lines
    assert "tilt from 0 down: at −20° with steer 0°" in lines


def test_no_share_of_the_range_is_told_as_nothing_nor_where_rolls_have_a_part_in_it():
    few = replace(STRIKE, region=replace(STRIKE.region, share=0.0004))
    assert "lower_arm_left – upright_left, in a small part of the range" in text_of(record("fails", [few]))
    rolled = text_of(record("fails", [replace(STRIKE, at={**STRIKE.at, "roll of tie_rod": 5.0})]))
    assert "lower_arm_left – upright_left tilt from 0 up: at +18.2°" in rolled


def test_advice_for_a_strike_adds_the_required_clearance():
    lines = text_of(record("fails", [STRIKE]))
    missing = "5.10 to 5.20 mm of clearance is missing at tilt +27.41°, steer 0°"
    assert f"{missing}, of which 3 mm are the clearance required" in lines
    assert "no shift of one shape is known that gives it at every setting" in lines


def test_advice_tells_a_swept_shift_and_what_it_brings_nearer():
    nearer = (NearerEntry("lower_arm_left", "wheel_left", 9.0, 4.25),)
    cure = CureEntry("lower_arm_left", "outer bracket", 5.2, (0.0, 0.0, -1.0), nearer)
    lines = text_of(record("fails", [replace(STRIKE, cure=cure)]))
    assert (
        "draw outer bracket of lower_arm_left 5.2 mm farther down, as it stands with all drives at 0; swept so" in lines
    )
    assert "but lower_arm_left and wheel_left then come within 4.25 mm, 9.00 mm before" in lines


def test_advice_tells_a_forgotten_seat():
    lines = text_of(record("fails", [replace(STRIKE, cure=CureEntry(joint="outer_ball", seat_mm=9.0))]))
    assert "comes free" not in lines
    assert "they are joined at outer_ball, see what to do below" in " ".join(lines.split())
    assert (
        "joined at outer_ball and overlapping as drawn: give the joint a seat of about 9 mm (seat_radius = 9)"
        in " ".join(lines.split())
    )
    ball = CureEntry(joint="outer_ball", seat_mm=8.01, ball=("tie_rod", "rod end ball"))
    lines = text_of(record("fails", [replace(STRIKE, cure=ball)]))
    told = 'give the joint a seat of about 8.01 mm (seat_radius = "bearing", which takes as much as holds rod end ball'
    assert told in " ".join(lines.split())
    bearing = CureEntry(joint="outer_ball", bearing={"arm": ("bush",), "post": ("pin", "washer")})
    lines = text_of(record("fails", [replace(STRIKE, cure=bearing)]))
    assert (
        'bush of arm and pin and washer of post are its bearing, so write bearing_of = "outer_ball" into'
        in " ".join(lines.split())
    )


def test_a_depth_that_was_not_closed_in_on_is_told_as_at_least():
    open_end = replace(STRIKE, overlap=replace(STRIKE.overlap, at_most_mm=None))
    lines = text_of(record("fails", [open_end]))
    assert "steer 0°: at least 5.10 mm of clearance is missing (at least 2.10 mm deep, 3 mm required)" in lines
    assert "FAILS at least 2.10 deep" in lines
    assert "at least 5.10 mm of clearance is missing" in lines


def test_a_depth_is_told_as_a_bracket_and_the_way_out_frees_true_surfaces():
    """4.966 is what facets show of 5.00, and 5.0941 what no setting goes beyond: the first alone is not the deepest."""
    seen = replace(STRIKE, overlap=replace(STRIKE.overlap, depth_mm=4.966, at_most_mm=5.0941), surface_error_mm=0.04)
    lines = text_of(record("fails", [seen]))
    assert "steer 0°: 7.96 to 8.10 mm of clearance is missing (4.96 to 5.10 mm deep, 3 mm required)" in lines
    assert "body comes free when moved 5.01 mm (" in lines
    assert "FAILS 4.96 to 5.10 deep" in lines
    assert "7.96 to 8.10 mm of clearance is missing" in lines


def test_no_range_is_advised_that_was_not_swept():
    """Where a strike begins was looked at with the others at few settings: with them elsewhere it begins sooner."""
    contacts = (
        Contact("tilt", -1, {"tilt": -13.2, "steer": 0.0}),
        Contact("tilt", -1, {"tilt": -11.15, "steer": -35.0}),
    )
    advised = text_of(record("fails", [replace(STRIKE, first_contacts=contacts)])).partition("What to do now")[2]
    assert "stop end" not in advised
    assert "stops end" not in advised
    assert "11.15" not in advised


def test_stop_is_no_way_out_where_the_other_drives_must_be_away_from_rest():
    contacts = (Contact("tilt", 1, {"tilt": 18.2, "steer": 35.0}), Contact("steer", 1, {"tilt": 30.0, "steer": 2.0}))
    assert " end tilt before" not in text_of(record("fails", [replace(STRIKE, first_contacts=contacts)]))


def test_advice_for_a_narrow_gap_tells_what_is_missing():
    assert "grind, shim or move one of them for 1.69 mm more clearance at tilt −30°, steer +35°" in text_of(
        record("fails", [NEAR])
    )


def test_advice_for_facets_is_to_draw_finer():
    rough = replace(OPEN, why="the facets stand off the true surfaces by up to 0.040 mm; draw finer")
    assert "draw finer: a smaller `facet_error`" in text_of(record("undecided", [rough]))


def test_clear_machine_gets_one_number_to_measure():
    assert "the gap between wheel and frame should be 4.2 mm" in text_of(record("clear", [CLEAR_PAIR]))


def test_everything_not_checked_is_listed_under_its_reason():
    left = (NotCheckedEntry("a", "b", "bolted"), NotCheckedEntry("c", "d", "far"), NotCheckedEntry("e", "f", "bolted"))
    lines = text_of(record("clear", [CLEAR_PAIR], not_checked=left))
    assert "3 pairs were not checked, see below" in lines
    assert "Not checked: 3 pairs bolted: a – b, e – f far: c – d" in lines


def test_reasons_that_differ_in_the_joint_only_are_told_as_one():
    left = (NotCheckedEntry("a", "b", "welded at x"), NotCheckedEntry("c", "d", "welded at y"))
    assert "Not checked: 2 pairs welded at: a – b (x), c – d (y)" in text_of(
        record("clear", not_checked=left, pairs=[CLEAR_PAIR])
    )


def test_moved_parts_findings_and_freedoms_are_told():
    lines = text_of(
        record(
            "clear",
            [CLEAR_PAIR],
            assembled=(MovedEntry("rod", 0.163, 1.29),),
            findings=(
                FindingEntry("repaired", "parts.tub", "turned outwards"),
                FindingEntry("note", "x", "said"),
                FindingEntry("note", "y", "said"),
            ),
            freedoms=(
                FreedomEntry(("rod",), "can roll about its own line", "takes the shortest turn from the zero position"),
            ),
        )
    )
    assert "rod: 0.16 mm, turned 1.29°" in lines
    assert "parts.tub: turned outwards (repaired)" in lines
    assert "x, y: said" in lines
    assert "rod can roll about its own line; it takes the shortest turn" in lines


@pytest.mark.parametrize("verdict", ["clear", "fails", "undecided"])
def test_every_report_says_what_the_model_leaves_out_and_that_people_ride_on_it(verdict):
    pair = {"clear": CLEAR_PAIR, "fails": STRIKE, "undecided": OPEN}[verdict]
    lines = text_of(record(verdict, [pair]))
    for word in ("bend", "wear", "tyres", "welds", "carries people", "someone competent", "rules"):
        assert word in lines


def test_table_shows_every_pair_that_is_not_clear_and_the_nearest_of_the_others():
    clear = [replace(CLEAR_PAIR, a=f"clear{index}") for index in range(30)]
    failing = [replace(NEAR, a=f"near{index}") for index in range(5)]
    late = replace(OPEN, a="late")
    lines = text_of(record("fails", [*failing, *clear, late]))
    assert "(12 of 36; the record has all)" in lines
    assert lines.count("FAILS ") == 5
    assert "UNDECIDED 4.20" in lines
    assert "clear5 (tyre)" in lines
    assert "clear6 (tyre)" not in lines


def test_files_are_named_before_the_last_word(tmp_path):
    lines = text_of(record("clear", [CLEAR_PAIR]), Files(Path("r/record.json"), Path("r/closest.png")))
    assert "record: r/record.json picture: r/closest.png What to do now" in lines
    lines = text_of(record("clear", [CLEAR_PAIR]), Files(Path("r/record.json"), None, "none was drawn: no light"))
    assert "record: r/record.json picture: none was drawn: no light What to do now" in lines


def test_picture_that_fails_is_a_note_only(tmp_path):
    def broken():
        raise RuntimeError("no\nlight")

    files = with_picture(Files(Path("record.json")), broken, tmp_path / "closest.png")
    assert (files.record, files.picture, files.picture_note) == (Path("record.json"), None, "none was drawn: no light")
