"""Records as JSON: nothing lost on the way there and back, nothing half written, every fault told."""

import errno
import json
import os
from dataclasses import fields, replace
from pathlib import Path

import pytest
from small_machines import quiet, read, slider, trammel
from stop_machines import beam_axle

from assembly import record
from assembly.clearance.narrow_phase.pair_result import Effort
from assembly.errors import InputError, OutputError
from assembly.record import (
    Record,
    SolidEntry,
    TravelStopEntry,
    json_text,
    load_record,
    prepare_folder,
    save,
    write_whole,
)
from assembly.studies.inventory import inventory
from assembly.studies.look import look
from assembly.studies.sweep.check import check
from assembly.studies.sweep.joint_ranges import joints_of
from assembly.studies.sweep.sweep_record import sweep_record


def test_every_module_of_records_is_looked_into_for_a_name():
    folder = Path(record.__file__).parent
    assert sorted(record._MODULES) == sorted(path.stem for path in folder.glob("*.py") if path.stem != "__init__")
    named = [line.split()[-1] for line in (folder / "__init__.py").read_text().splitlines() if " import " in line]
    assert all(getattr(record, name) is not None for name in named[2:])
    with pytest.raises(AttributeError, match="no attribute 'Nothing'"):
        record.Nothing  # noqa: B018 - it is looked for, and not there


KEYS = (
    "format program machine made drives verdict reason pairs not_checked joints first_out rods freedoms unreachable "
    "unreachable_share assembled findings measures stops work dimensions parts threads weight wheels "
    "cables rods_turned loose"
)
PAIR_KEYS = (
    "a b shape_a shape_b required_mm least_mm proven_mm at point_a point_b verdict why overlap gap_seat "
    "surface_error_mm swallowed terms region first_contacts estimated cure closed_in asked clear_within constant"
)


def swept(text, **effort):
    checked = check(read(text), Effort(**effort), quiet)
    return sweep_record(checked, joints_of(checked.mechanism))


def with_stop():
    checked = check(read(beam_axle()), Effort(decide_only=True), quiet)
    return sweep_record(checked, joints_of(checked.mechanism))


@pytest.fixture(scope="module")
def striking():
    return swept(slider(high=12.0, required=3.0))


@pytest.fixture(scope="module")
def leaning():
    return swept(trammel(), decide_only=True)


@pytest.mark.parametrize("which", ["striking", "leaning"])
def test_record_comes_back_from_its_file_as_it_was(which, request, tmp_path):
    record = request.getfixturevalue(which)
    save(record, tmp_path / "record.json")
    assert load_record(tmp_path / "record.json") == record


def test_keys_are_those_of_format_1(striking):
    raw = json.loads(json_text(striking))
    assert list(raw) == KEYS.split()
    assert list(raw["pairs"][0]) == PAIR_KEYS.split()
    assert raw["drives"]["push"] == {"from": -5.0, "to": 12.0, "unit": "mm"}
    assert list(raw["pairs"][0]["overlap"]) == [
        "at",
        "depth_mm",
        "direction",
        "volume_mm3",
        "where",
        "inside",
        "at_most_mm",
    ]
    assert list(raw["pairs"][0]["region"]) == ["share", "cells"]
    assert raw["machine"]["digest"] == raw["machine"]["digests"][raw["machine"]["file"]]
    assert len(raw["machine"]["digest"]) == 64  # SHA-256 in hexadecimal


def test_key_that_came_later_may_be_missing_from_an_older_record(striking, tmp_path):
    def older(raw):
        raw.pop("dimensions")
        raw.pop("parts")
        raw["work"].pop("interest_mm")

    path = tmp_path / "record.json"
    path.write_text(changed(striking, older))
    read = load_record(path)
    assert (dict(read.dimensions), dict(read.parts), read.work.interest_mm) == ({}, {}, 10.0)
    assert replace(read, parts=striking.parts) == striking


def test_dimensions_parts_and_stops_are_in_the_record():
    text = slider(extra="[dimensions]\nlong = 20\nwide = { value = 'long / 2', plus_minus = 0.25 }\n")
    record = swept(text, decide_only=True)
    assert {name: (one.value, one.plus_minus, one.text) for name, one in record.dimensions.items()} == {
        "long": (20.0, 0.0, ""),
        "wide": (10.0, 0.25, "long / 2"),
    }
    assert record.parts["lug"] == SolidEntry(12, (6.0, 6.0, 20.0))  # a box is 12 triangles
    assert list(record.parts) == ["base", "sledge", "lug"]
    assert record.stops == ()


def test_stops_of_the_machine_are_in_the_record():
    stops = with_stop().stops
    assert stops == (TravelStopEntry("lock", "steer", "high", None, "axle", "knuckle_left"),)


def test_terms_add_up_to_what_is_proven(leaning):
    for pair in leaning.pairs:
        terms = pair.terms
        taken = terms.travel + terms.residual + terms.surface_error + terms.query_tolerance + terms.rounding
        assert pair.proven_mm <= pair.least_mm
        assert terms.distance - taken == pytest.approx(pair.proven_mm, abs=1e-9)


def test_drives_and_settings_go_by_name(leaning):
    assert leaning.drives.keys() == {"push"}
    every = [pair.at.keys() for pair in leaning.pairs]
    assert {"push"} in every
    assert all(at - {"roll of link"} == {"push"} for at in every)
    lean = next(joint for joint in leaning.joints if joint.motion == "misalignment")
    assert (lean.name, lean.kind, lean.unit, lean.limit) == ("low_ball", "ball", "deg", 22.0)
    assert lean.reserve == pytest.approx(lean.limit - lean.most)


def test_joint_that_was_not_measured_is_a_finding(leaning):
    assert ("joints.high_ball", "note") in [(finding.about, finding.kind) for finding in leaning.findings]


def test_pose_and_inspection_are_json_too():
    posed = json.loads(json_text(look(read(slider()), {"push": 3.0}).record))
    assert (posed["kind"], posed["at"], posed["verdict"]) == ("pose", {"push": 3.0}, "clear")
    listed = json.loads(json_text(inventory(read(slider()))))
    assert (listed["kind"], len(listed["parts"]), listed["faults"]) == ("inspect", 3, [])


@pytest.mark.parametrize("number", [float("nan"), float("inf")])
def test_number_that_json_does_not_have_is_never_written(striking, number, tmp_path):
    broken = replace(striking, unreachable_share=number)
    with pytest.raises(ValueError, match="JSON"):
        save(broken, tmp_path / "record.json")
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_full_disk_leaves_the_old_record_and_nothing_else(striking, step, tmp_path, monkeypatch):
    path = tmp_path / "record.json"
    path.write_text("yesterday")

    def full(*_arguments):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(*((os, "fsync", full) if step == "fsync" else (Path, "replace", full)))
    with pytest.raises(OutputError, match="No space left"):
        save(striking, path)
    assert path.read_text() == "yesterday"
    assert list(tmp_path.iterdir()) == [path]


def test_folder_is_made_and_left_empty(tmp_path):
    prepare_folder(tmp_path / "a" / "b")
    assert list((tmp_path / "a" / "b").iterdir()) == []


def test_folder_that_is_a_file_is_refused_in_one_line(tmp_path):
    (tmp_path / "file").write_text("")
    for folder in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(OutputError, match="a file is in the way") as caught:
            prepare_folder(folder)
        assert "\n" not in str(caught.value)


def test_folder_that_cannot_be_written_is_refused(tmp_path, monkeypatch):
    def refuse(*_arguments, **_options):
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    monkeypatch.setattr(Path, "touch", refuse)
    with pytest.raises(OutputError, match="Permission denied; name a folder that can be written to"):
        prepare_folder(tmp_path)


def test_missing_folder_is_told_when_writing(tmp_path):
    with pytest.raises(OutputError, match="No such file"):
        write_whole(tmp_path / "nowhere" / "text", "x")


def test_folder_in_place_of_the_file_is_told_when_writing(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for folder in (Path(), tmp_path):
        with pytest.raises(OutputError, match="a folder is in the way; name a file"):
            write_whole(folder, "x")
    assert list(tmp_path.iterdir()) == []


def changed(record, change):
    raw = json.loads(json_text(record))
    change(raw)
    return json.dumps(raw)


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda raw: raw.pop("format"), "records of format None are not known"),
        (lambda raw: raw.update(format=2), "records of format 2 are not known"),
        (lambda raw: raw.pop("pairs"), "the key `pairs` is missing"),
        (lambda raw: raw.update(verdict="good"), "verdict: 'good' is not 'clear' or 'fails' or 'undecided'"),
        (lambda raw: raw.update(pairs={}), "pairs: {} is not a list"),
        (lambda raw: raw.update(drives=[]), r"drives: \[\] is not a table"),
        (lambda raw: raw["pairs"][0].pop("least_mm"), r"pairs\[0\]: the key `least_mm` is missing"),
        (lambda raw: raw["pairs"][0].update(least_mm="2"), r"pairs\[0\].least_mm: '2' is not a number"),
        (lambda raw: raw["pairs"][0].update(swallowed=1), r"pairs\[0\].swallowed: 1 is not true or false"),
        (lambda raw: raw["pairs"][0].update(point_a=[1, 2]), r"pairs\[0\].point_a: \[1, 2\] is not a list of 3"),
        (lambda raw: raw["work"].update(poses=1.5), "work.poses: 1.5 is not a whole number"),
        (lambda raw: raw["machine"].update(name=7), "machine.name: 7 is not a text"),
        (lambda raw: raw.update(unreachable_share=float("nan")), "NaN is no number"),
    ],
)
def test_broken_record_is_told_by_its_key(striking, change, told, tmp_path):
    path = tmp_path / "record.json"
    path.write_text(changed(striking, change))
    with pytest.raises(InputError, match=told) as caught:
        load_record(path)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(("text", "told"), [("{", "not JSON"), ("[]", "format None"), ("", "not JSON")])
def test_file_that_is_no_record_is_told(text, told, tmp_path):
    (tmp_path / "record.json").write_text(text)
    with pytest.raises(InputError, match=told):
        load_record(tmp_path / "record.json")


def test_missing_record_is_told(tmp_path):
    with pytest.raises(InputError, match=r"No such file.*; run a sweep first"):
        load_record(tmp_path / "record.json")


def test_number_without_a_fraction_may_be_written_without_one(striking, tmp_path):
    path = tmp_path / "record.json"
    path.write_text(changed(striking, lambda raw: raw["pairs"][0].update(required_mm=3)))
    assert load_record(path).pairs[0].required_mm == 3.0


def test_record_is_frozen_in_every_field(striking):
    for field in fields(Record):
        with pytest.raises(AttributeError):
            setattr(striking, field.name, None)
