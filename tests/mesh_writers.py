"""PLY, 3MF and OBJ files written by hand for the tests, whole or with what a test wants in them."""

import io
import zipfile

import numpy as np

SPECIFICATION = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"


def ply(vertices, faces, *, fmt="ascii"):
    head = (
        f"ply\nformat {fmt} 1.0\nelement vertex {len(vertices)}\nproperty double x\nproperty double y\n"
        f"property double z\nelement face {len(faces)}\nproperty list uchar int vertex_indices\nend_header\n"
    ).encode()
    if fmt == "ascii":
        rows = [" ".join(map(str, row)) for row in vertices.tolist()]
        rows += [" ".join(map(str, [len(face), *face])) for face in faces.tolist()]
        return head + "\n".join(rows).encode() + b"\n"
    order = "<" if "little" in fmt else ">"
    facet = np.dtype([("count", "u1"), ("corners", order + "i4", (faces.shape[1],))])
    rows = np.zeros(len(faces), dtype=facet)
    rows["count"], rows["corners"] = faces.shape[1], faces
    return head + vertices.astype(order + "f8").tobytes() + rows.tobytes()


def three_mf(vertices, faces, unit=' unit="inch"', transform="", xml=None):
    points = "".join(f'<vertex x="{x}" y="{y}" z="{z}"/>' for x, y, z in vertices.tolist())
    triangles = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in faces.tolist())
    body = f"<mesh><vertices>{points}</vertices><triangles>{triangles}</triangles></mesh>"
    item = f'<item objectid="1"{transform}/>'
    model = xml or (
        f'<?xml version="1.0"?><model xmlns="{SPECIFICATION}"{unit}><resources><object id="1" type="model">{body}'
        f"</object></resources><build>{item}</build></model>"
    )
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as archive:
        archive.writestr("3D/3dmodel.model", model)
    return stream.getvalue()


def obj(vertices, faces):
    rows = [f"v {x!r} {y!r} {z!r}" for x, y, z in vertices.tolist()]
    return "\n".join(rows + ["f " + " ".join(str(k + 1) for k in face) for face in faces.tolist()]).encode()
