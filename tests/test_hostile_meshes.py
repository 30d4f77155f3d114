"""Mesh files made to harm: refused with a sentence before they cost memory or time, and never a traceback."""

import errno
import hashlib
import io
import os
import re
import socket
import struct
import tracemalloc
import zipfile
from pathlib import Path
from time import process_time

import pytest
from mesh_writers import SPECIFICATION, obj, ply, three_mf
from plain_meshes import cube
from small_machines import slider

from assembly import load
from assembly.api.nights.finding import find_mechanisms
from assembly.arguments import Bytes
from assembly.cli import commands, main
from assembly.errors import InputError
from assembly.geometry import mesh_size
from assembly.geometry.meshfiles import read_mesh
from assembly.geometry.regular import regular_bytes

CASES = Path(__file__).parent / "cases" / "files"
CUBE = cube(20)
LONG = b"1" * 200_000


def refusal_of(path):
    with pytest.raises(InputError) as refusal:
        read_mesh(path)
    assert len(str(refusal.value)) < len(str(path)) + 400
    return str(refusal.value)


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("obj_index.obj", "1 facet names a vertex that does not exist; there are 8"),
        ("obj_1e308.obj", "mm from the origin; at most 1e+09 mm"),
        ("ply_count.ply", "the header promises 4000000000 of vertex, and "),
        ("ply_digits.ply", "promises no number of things"),
        ("ply_negative.ply", "`element vertex -8` promises no number of things"),
    ],
)
def test_numbers_that_no_file_holds_are_refused_by_what_is_wrong(name, told):
    assert told in refusal_of(CASES / name)


def text_stl(number, rows):
    facet = b"facet normal 0 0 1\nouter loop\n%sendloop\nendfacet\n"
    corners = [b"vertex 1 2 3\n"] * 3
    return b"solid a\n" + facet % b"".join([b"vertex %s 0 0\n" % number, *corners[1:]]) + rows * (
        facet % b"".join(corners)
    ) + b"endsolid a\n"  # fmt: skip


@pytest.mark.parametrize(
    ("name", "data", "told"),
    [
        ("a.stl", text_stl(LONG, 400), "is no corner"),
        ("a.ply", ply(*CUBE).replace(b"-10.0", LONG, 1), "a number has more than 64 digits"),
        ("a.obj", obj(*CUBE).replace(b"f 1", b"f " + LONG, 1), "cannot be read"),
        ("a.obj", obj(*CUBE).replace(b"v -10.0", b"v " + b"1" * 400, 1), "not finite"),
    ],
    ids=["stl", "ply", "obj index", "obj"],
)
def test_an_endless_number_costs_no_more_than_the_file(tmp_path, name, data, told):
    """One number of 200 000 digits gave every other its room: here 240 MB and more for a file of 300 kB."""
    (tmp_path / name).write_bytes(data)
    tracemalloc.start()
    try:
        assert told in refusal_of(tmp_path / name)
        assert tracemalloc.get_traced_memory()[1] < 40_000_000
    finally:
        tracemalloc.stop()


def test_strips_in_ply_are_not_left_out_in_silence(tmp_path):
    data = ply(*CUBE).replace(b"end_header", b"element tristrips 1\nproperty list int int vertex_indices\nend_header")
    (tmp_path / "a.ply").write_bytes(data + b"3 0 1 2\n")
    assert "holds strips of triangles" in refusal_of(tmp_path / "a.ply")


@pytest.fixture
def pipe(tmp_path):
    os.mkfifo(tmp_path / "pipe.stl")
    return tmp_path / "pipe.stl"


def test_pipes_sockets_devices_and_folders_are_refused_unread(tmp_path, pipe):
    assert "it is a pipe, not a file" in refusal_of(pipe)
    with socket.socket(socket.AF_UNIX) as one:
        one.bind(str(tmp_path / "s.stl"))
        assert "it is a socket, not a file" in refusal_of(tmp_path / "s.stl")
    (tmp_path / "zero.stl").symlink_to("/dev/zero")
    assert "it is a device, not a file" in refusal_of(tmp_path / "zero.stl")
    (tmp_path / "folder.stl").mkdir()
    assert "it is a folder, not a file" in refusal_of(tmp_path / "folder.stl")


def test_a_file_of_20_gigabytes_is_refused_unread(tmp_path):
    with (tmp_path / "a.stl").open("wb") as file:
        file.truncate(20_000_000_000)
    assert "it has 20000000000 bytes, more than the 1000000000 that are read" in refusal_of(tmp_path / "a.stl")


def test_as_many_bytes_as_may_be_are_read(tmp_path):
    (tmp_path / "a").write_bytes(b"12345")
    assert regular_bytes(tmp_path / "a", 5) == b"12345"
    with pytest.raises(OSError, match="it has 5 bytes") as refusal:
        regular_bytes(tmp_path / "a", 4)
    assert refusal.value.errno == errno.EFBIG


def machine_with(folder, mesh):
    text = slider()
    table = re.search(r"^\[parts\.\w+\]\n", text, re.MULTILINE)
    assert table
    path = folder / "m.toml"
    path.write_text(text.replace(table[0], f'{table[0]}meshes = [{{ file = "{mesh}" }}]\n'), encoding="utf-8")
    return path


def test_a_machine_with_a_pipe_for_a_mesh_or_for_itself_is_refused(tmp_path, pipe):
    with pytest.raises(InputError, match=r"mesh file `pipe\.stl` cannot be read: it is a pipe"):
        load(machine_with(tmp_path, "pipe.stl"))
    with pytest.raises(InputError, match="the file cannot be read: it is a pipe"):
        load(pipe)


def test_the_digest_in_the_record_is_of_the_bytes_that_were_checked(tmp_path, monkeypatch):
    """The file is replaced as soon as it was read once: what is checked and what is recorded stay the first."""
    mesh = tmp_path / "a.obj"
    mesh.write_bytes(obj(*cube(2, (500, 0, 0))))
    first, read = mesh.read_bytes(), mesh_size.regular_bytes

    def replaced(path, most):
        data = read(path, most)
        path.write_bytes(obj(*cube(3, (500, 0, 0))))
        return data

    monkeypatch.setattr(mesh_size, "regular_bytes", replaced)
    machine = load(machine_with(tmp_path, "a.obj"))
    drawn = [shape.mesh for part in machine.parts.values() for shape in part.shapes if shape.name == "a"]
    assert dict(machine.digests)["a.obj"] == hashlib.sha256(first).hexdigest()
    assert [mesh.volume for mesh in drawn] == [pytest.approx(8)]


def test_a_pipe_and_a_ring_of_links_do_not_stop_the_night(tmp_path):
    (tmp_path / "good.toml").write_text(slider(), encoding="utf-8")
    os.mkfifo(tmp_path / "pipe.toml")
    (tmp_path / "ring.toml").symlink_to("ring.toml")
    found = find_mechanisms([tmp_path])
    assert [file.name for file in found.files] == ["good"]
    told = {path.name: reason for path, reason in found.faults}
    assert set(told) == {"pipe.toml", "ring.toml"}
    assert told["pipe.toml"] == "cannot be read: it is a pipe, not a file"


def archive(model, **others):
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as held:
        held.writestr("3D/3dmodel.model", model)
        for name, text in others.items():
            held.writestr(name, text)
    return stream.getvalue()


def model_of(resources, build='<item objectid="1"/>'):
    return f'<model xmlns="{SPECIFICATION}"><resources>{resources}</resources><build>{build}</build></model>'


def doubling(levels):
    """Objects that each hold the one before twice: as many placed as two to the power of ``levels``."""
    first = '<object id="0"><mesh><vertices/><triangles/></mesh></object>'
    held = "".join(
        f'<object id="{k}"><components>{2 * f"<component objectid={chr(34)}{k - 1}{chr(34)}/>"}</components></object>'
        for k in range(1, levels + 1)
    )
    return model_of(first + held, f'<item objectid="{levels}"/>')


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda: archive(model_of("<!--" + " " * 90_000_000 + "-->")), "whose models unpack to 90000"),
        (lambda: archive(doubling(30)), "places objects within each other without end, or too many of them"),
        (
            lambda: archive(model_of('<object id="1"><components><component objectid="1"/></components></object>')),
            "within each",
        ),
        (lambda: archive(model_of(200 * "<a>" + 200 * "</a>")), "nested more than 32 deep"),
        (lambda: archive('<!DOCTYPE a [<!ENTITY b "c">]>' + model_of("&b;")), "declares a document type"),
        (lambda: archive(model_of('<object id="1"><mesh><beamlattice/></mesh></object>')), "holds `beamlattice`"),
        (lambda: archive(model_of(""), **{f"{k}": "" for k in range(10_001)}), "is an archive of 10002 entries"),
        (lambda: three_mf(*CUBE).replace(b'v1="0"', b'v1="x"', 1), "cannot be read as 3MF"),
    ],
    ids=["ratio", "doubling", "holds itself", "nested", "entity", "beams", "entries", "no number"],
)
def test_an_archive_that_holds_more_than_a_mesh_is_refused_within_its_memory(tmp_path, make, told):
    (tmp_path / "a.3mf").write_bytes(make())
    tracemalloc.start()
    try:
        assert told in refusal_of(tmp_path / "a.3mf")
        assert tracemalloc.get_traced_memory()[1] < 40_000_000
    finally:
        tracemalloc.stop()


def test_sixty_thousand_openings_in_a_comment_are_passed_over(tmp_path):
    """The expression that looked for objects took a time that grew with their square: minutes here."""
    whole = three_mf(*CUBE, unit="")
    with zipfile.ZipFile(io.BytesIO(whole)) as held:
        model = held.read("3D/3dmodel.model").decode()
    (tmp_path / "a.3mf").write_bytes(archive(model.replace("<resources>", f"<!--{60_000 * '<object '}--><resources>")))
    began = process_time()
    assert read_mesh(tmp_path / "a.3mf")[0].volume == pytest.approx(8000)
    assert process_time() - began < 5


def test_an_object_within_another_and_in_another_model_stands_where_both_poses_put_it(tmp_path):
    """Closed form: (10, 0, 0) turned a quarter about z is (0, 10, 0); with (0, 0, 5) before it, (0, 10, 5)."""
    with zipfile.ZipFile(io.BytesIO(three_mf(*cube(2), unit=""))) as held:
        other = held.read("3D/3dmodel.model")
    production = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" p:path="/3D/other.model"'
    component = f'<component {production} objectid="1" transform="1 0 0 0 1 0 0 0 1 10 0 5"/>'
    item = '<item objectid="7" transform="0 1 0 -1 0 0 0 0 1 0 0 0"/>'
    text = model_of(f'<object id="7"><components>{component}</components></object>', item)
    (tmp_path / "a.3mf").write_bytes(archive(text, **{"3D/other.model": other}))
    mesh = read_mesh(tmp_path / "a.3mf")[0]
    assert mesh.bounds.tolist() == [[-1, 9, 4], [1, 11, 6]]


@pytest.mark.parametrize("number", [b"1e40", b"nan", b"-1e300"])
def test_a_corner_that_is_no_whole_number_is_refused_without_a_warning(tmp_path, number, recwarn):
    """It was cast to whatever the processor makes of it, with a warning of numpy on stderr."""
    head, found, body = ply(*CUBE).rpartition(b"\n3 ")
    assert found
    (tmp_path / "a.ply").write_bytes(head + found + number + b" " + body.partition(b" ")[2])
    assert "cannot be read as PLY" in refusal_of(tmp_path / "a.ply")
    assert not recwarn.list


def test_a_signalling_nan_in_a_binary_stl_is_refused_without_a_warning(tmp_path, recwarn):
    """0x7FA00000 of IEEE 754: the first coordinate of the first facet, behind its normal."""
    facets = struct.pack("<12fH", 0, 0, 1, 0, 0, 0, 1, 0, 0, 0, 1, 0, 0) * 4
    data = bytes(80) + struct.pack("<I", 4) + facets[:12] + struct.pack("<I", 0x7FA00000) + facets[16:]
    (tmp_path / "a.stl").write_bytes(data)
    assert "1 vertex is not finite (NaN" in refusal_of(tmp_path / "a.stl")
    assert not recwarn.list


def small_mesh(folder):
    (folder / "a.obj").write_bytes(obj(*cube(2, (500, 0, 0))))
    return machine_with(folder, "a.obj"), (folder / "a.obj").stat().st_size


def readers():
    return [name for name, command in commands.commands.items() if any(o.name == "mesh_limit" for o in command.params)]


def test_every_command_that_reads_a_machine_takes_a_limit_for_its_meshes():
    assert set(commands.commands) - set(readers()) == {"history", "new", "schema"}


@pytest.mark.parametrize("command", ["inspect", "sweep", "compare", "nightly"])
def test_a_mesh_beyond_the_limit_is_refused_and_one_at_it_is_read(tmp_path, monkeypatch, capsys, command):
    """A file of n bytes passes a limit of n and not one of n - 1, and the limit ends with its command."""
    path, size = small_mesh(tmp_path)
    monkeypatch.chdir(tmp_path)
    history = ("--history", str(tmp_path / "h.sqlite3")) if command in ("compare", "nightly") else ()
    plain = ("--no-picture",) if command in ("sweep", "nightly") else ()
    asked = (command, *((str(path),) * (1 + (command == "compare"))), *history, *plain)
    assert main([*asked, "--mesh-limit", str(size - 1)]) == 2
    out, err = capsys.readouterr()
    assert f"it has {size} bytes, more than the {size - 1} that are read" in " ".join((out + err).split())
    assert "--mesh-limit 2GB" in out + err
    for limit in (("--mesh-limit", str(size)), ()):
        assert main([*asked, *limit]) == 0


@pytest.mark.parametrize(
    ("written", "size"),
    [("500MB", 500_000_000), ("1.5GB", 1_500_000_000), ("20 kb", 20_000), ("7", 7), ("7B", 7), ("1000GB", 10**12)],
)
def test_sizes_are_read_as_they_are_written(written, size):
    assert Bytes().convert(written, None, None) == size


@pytest.mark.parametrize(
    "written", ["0", "-1", "1e9", "nan", "inf", "", "GB", "1TB", "1,5GB", "0.4", "1001GB", "9" * 40, "½GB", "٣"]
)
def test_what_is_no_size_is_refused_with_an_example(tmp_path, capsys, written):
    assert main(["inspect", "m.toml", "--mesh-limit", written]) == 2
    assert "is no size; write 500MB, 1.5GB or a number of bytes" in capsys.readouterr().err


@pytest.mark.parametrize("fmt", ["ascii", "binary_little_endian", "binary_big_endian"])
def test_a_ply_cut_off_anywhere_is_refused(tmp_path, fmt):
    """Cut off within a row of corners it once ended in a line that begins with `the program itself broke off`."""
    data = ply(*CUBE, fmt=fmt)
    for end in range(data.index(b"end_header"), len(data) - 1):
        (tmp_path / "a.ply").write_bytes(data[:end])
        refusal_of(tmp_path / "a.ply")


def test_numbers_that_placing_makes_endless_are_refused_without_a_warning(tmp_path, recwarn):
    vertices, faces = CUBE
    (tmp_path / "a.3mf").write_bytes(
        three_mf(vertices * 1e307, faces, transform=' transform="99 0 0 0 9 0 0 0 9 0 0 0"')
    )
    assert "8 vertices are not finite" in refusal_of(tmp_path / "a.3mf")
    (tmp_path / "a.obj").write_bytes(obj(vertices * 1e307, faces))
    with pytest.raises(InputError, match="8 vertices are not finite"):
        read_mesh(tmp_path / "a.obj", unit="m")
    assert not recwarn.list
