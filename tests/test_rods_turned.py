"""What turning a rod needs and does: room for a spanner, a measure that is wanted, and the machine swept so."""

from math import asin, atan2, degrees, radians, sin

import pytest
import shapely
from records import pair, record, rod
from rod_threads import M8, M8_LEFT, lever, rod_table
from small_machines import read

import assembly
from assembly.cli import main
from assembly.errors import InputError
from assembly.model.thread_standards import SpannerSize
from assembly.studies.rods.spanner_room import sector
from assembly.studies.variant_row import variant_row

NUT = 'lock_nut = "ISO 4035"'
TOE = """
[measures.toe]
angle = [{ on = "ground", along = [1, 0, 0] }, { on = "lever", along = [1, 0, 0] }]
about = [0, 0, 1]
"""


def wall(*heights):
    """A fixed part of walls across the sector of the nut at `near`, each from its height outwards."""
    boxes = ", ".join(
        f"{{ box = [600, 28, {height + (300 if height > 0 else -300)}], size = [900, 40, 600] }}" for height in heights
    )
    return f"[parts.walls]\nfixed = true\nshapes = [{boxes}]\n"


def at_nut(*heights):
    """Room at the near lock nut: its middle lies at y = 28, the spanner sweeps in the plane of x and z."""
    text = lever(rod_table(f"{M8}, {NUT}", M8_LEFT), arm=600.0) + wall(*heights)
    (found,) = assembly.rods(read(text)).spanners
    return found


def test_a_wall_beside_the_nut_leaves_the_directions_that_geometry_says():
    """Closed form: a spanner 165 long and 14.5 wide stays above -40 from -11.5 to 131.5 degrees: nine times 15."""
    found = at_nut(-40.0)
    reach = (165.0**2 + 7.25**2) ** 0.5
    lowest = -degrees(asin(40 / reach)) + degrees(asin(7.25 / reach))
    free = [angle for angle in range(-180, 180, 15) if lowest <= angle <= 120 - lowest]
    assert len(free) == 9
    assert (found.swing_deg, found.free, found.tried) == (60.0, 9, 24)
    assert (found.what, found.joint, found.across_flats_mm, found.part) == ("lock nut", "near", 13.0, "walls")
    assert found.handle[2] > 0.8
    assert found.clearance_mm == pytest.approx(40 - 14.5, abs=0.05)


def test_a_spanner_is_turned_over_where_a_whole_flat_has_no_room():
    """Closed form: between walls at ±60 a swing of 60 needs ±90, one of 30 needs ±50: once on either side."""
    found = at_nut(60.0, -60.0)
    assert (found.swing_deg, found.free) == (30.0, 2)
    assert abs(found.handle[0]) > 0.99


def test_no_room_names_what_is_in_the_way():
    """Its head alone, 29 across, does not pass between walls 20 apart."""
    found = at_nut(10.0, -10.0)
    assert (found.free, found.clearance_mm, found.part) == (0, None, "walls")


def test_the_sector_holds_all_that_the_spanner_sweeps():
    """Brute force: corners of head and handle at every angle of the swing lie inside the outline, by 0.1 mm at most."""
    size = SpannerSize(165, 29, 6)
    mesh = sector(size, 60)
    corners = mesh.vertices[mesh.vertices[:, 2] > 0, :2]
    around = sorted(corners.tolist(), key=lambda uv: atan2(uv[1], uv[0]))

    outline = shapely.Polygon(around)
    swept = [
        shapely.affinity.rotate(shapely.box(0, -7.25, 165, 7.25), angle, origin=(0, 0)) for angle in range(0, 61, 2)
    ]
    every = shapely.union_all([shapely.Point(0, 0).buffer(14.5, 64), *swept])
    assert outline.buffer(1e-6).contains(every)
    assert outline.area <= every.area * 1.01


def test_turns_until_a_measure_is_as_wanted():
    """Closed form: 1 degree on an arm of 80 is 80 sin(1°) = 1.39619 mm shorter, 0.5585 turns."""
    found = assembly.rods(read(lever(rod_table(M8, M8_LEFT)) + TOE), wanted=("toe", 1.0))
    (way,) = found.ways
    assert way.change_mm == pytest.approx(-80 * sin(radians(1)), abs=1e-4)
    assert way.turns == pytest.approx(-0.5585, abs=1e-4)
    (toe,) = found.turned[0].measures
    assert toe.longer == pytest.approx([-degrees(asin(mm / 80)) for mm in (2.5, 1.25, 2.5 / 6, 0.625)], abs=2e-6)


def test_half_turns_that_do_not_make_a_measure_tell_the_nearest_values():
    """TC-05c: half turns of 0.625 on an arm of 80 make 0.448, 0.895, 1.343 degrees, and 1 degree cannot be promised."""
    (way,) = assembly.rods(read(lever(rod_table(M8, M8)) + TOE), wanted=("toe", 1.0)).ways
    assert not way.settable
    assert sorted((way.below, way.above)) == pytest.approx(
        [degrees(asin(1.25 / 80)), degrees(asin(1.875 / 80))], abs=1e-4
    )


def test_a_measure_that_no_rod_brings_there_is_told():
    machine = read(lever(rod_table(M8, M8_LEFT)) + TOE)
    with pytest.raises(InputError, match="no length of `rod` brings `toe` to 95"):
        assembly.rods(machine, wanted=("toe", 95.0))
    with pytest.raises(InputError, match="there is no measure `tow`"):
        assembly.rods(machine, wanted=("tow", 1.0))


def test_longer_and_shorter_rods_are_swept(tmp_path, capsys):
    """Half a turn of M8 with two hands is 1.25 mm (closed form)."""
    path = tmp_path / "lever.toml"
    path.write_text(lever(rod_table(f"{M8}, {NUT}", f"{M8_LEFT}, {NUT}", rules=("1 d in steel",))), encoding="utf-8")
    assert main(["rods", str(path), "--swept", "--cores", "1"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "Swept over the whole range with length as in the file and otherwise" in told
    for length in ("300 CLEAR", "301.25 CLEAR", "298.75 CLEAR"):
        assert length in told
    assert "every length that was swept is clear" in told


def test_the_row_of_a_variant_tells_how_far_rods_roll():
    row = variant_row({}, record(pair("a", "b", 3.0), rods=(rod("link", 4.5),)), None)
    assert row.rolls == {"link": 4.5}


def test_a_rod_that_no_number_sets_cannot_be_swept_longer():
    text = lever(rod_table(M8, M8_LEFT)).replace('set_length = { from = "far", to = "near", is = "length" }\n', "")
    with pytest.raises(InputError, match="no number of the file sets the length of `rod`"):
        assembly.rods(read(text), swept=True)


def test_two_questions_at_once_are_refused(tmp_path, capsys):
    path = tmp_path / "lever.toml"
    path.write_text(lever(rod_table(M8, M8_LEFT)) + TOE, encoding="utf-8")
    assert main(["rods", str(path), "--length", "301", "--measure", "toe=1"]) == 2
    assert "--length and --measure are asked for at once" in capsys.readouterr().err
    assert main(["rods", str(path), "--measure", "toe=1"]) == 0
    assert "toe is then 1.00° with all drives at 0" in capsys.readouterr().out
