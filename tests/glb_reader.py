"""Binary glTF read with nothing but the standard library and numpy, after the Khronos glTF 2.0 specification.

Shares no code with the writer: chunks (section 4.4), accessors (3.6.2), node transforms (3.5.3), animations (3.11).
"""

import json
import struct
from dataclasses import dataclass

import numpy as np

TYPES = {5126: np.dtype("<f4"), 5125: np.dtype("<u4")}
WIDTHS = {"SCALAR": 1, "VEC3": 3, "VEC4": 4}


@dataclass
class Glb:
    table: dict
    blob: bytes

    def values(self, accessor):
        """(n,) or (n, k) numbers of an accessor."""
        entry = self.table["accessors"][accessor]
        view = self.table["bufferViews"][entry["bufferView"]]
        width, start = WIDTHS[entry["type"]], view.get("byteOffset", 0) + entry.get("byteOffset", 0)
        read = np.frombuffer(self.blob, TYPES[entry["componentType"]], entry["count"] * width, start)
        return read if width == 1 else read.reshape(-1, width)

    def node(self, name):
        """Number of the only node of that name."""
        (found,) = [k for k, node in enumerate(self.table["nodes"]) if node.get("name") == name]
        return found

    def animation(self, name):
        (found,) = [one for one in self.table["animations"] if one["name"] == name]
        return found

    def place(self, name, animation=None, second=0.0):
        """Translation and quaternion (x y z w) of a node; in an animation at ``second`` of it."""
        number = self.node(name)
        node = self.table["nodes"][number]
        found = {"translation": np.array(node["translation"]), "rotation": np.array(node["rotation"])}
        for channel in animation["channels"] if animation else ():
            if channel["target"]["node"] == number:
                sampler = animation["samplers"][channel["sampler"]]
                assert sampler.get("interpolation", "LINEAR") == "LINEAR"
                times = self.values(sampler["input"]).astype(float)
                keys = self.values(sampler["output"]).astype(float)
                after = int(np.clip(np.searchsorted(times, second), 1, len(times) - 1))
                share = (second - times[after - 1]) / (times[after] - times[after - 1])
                mix = slerp if channel["target"]["path"] == "rotation" else lerp
                found[channel["target"]["path"]] = mix(keys[after - 1], keys[after], share)
        return found["translation"], found["rotation"]


def read(data):
    magic, version, length = struct.unpack_from("<4sII", data)
    assert (magic, version, length) == (b"glTF", 2, len(data))
    size, kind = struct.unpack_from("<I4s", data, 12)
    assert kind == b"JSON"
    table = json.loads(data[20 : 20 + size].decode("utf-8"))
    blob_size, kind = struct.unpack_from("<I4s", data, 20 + size)
    assert kind == b"BIN\0"
    blob = data[28 + size :]
    assert (len(blob), size % 4, blob_size % 4) == (blob_size, 0, 0)
    return Glb(table, blob)


def lerp(one, other, share):
    return (1 - share) * one + share * other


def slerp(one, other, share):
    """Appendix C.4, without its sign change: the writer has to keep neighbours on one side."""
    cosine = float(np.clip(one @ other, -1, 1))
    if cosine > 1 - 1e-12:
        return lerp(one, other, share)
    angle = np.arccos(cosine)
    return (np.sin((1 - share) * angle) * one + np.sin(share * angle) * other) / np.sin(angle)


def turned(quaternion, point):
    """``point`` (..., 3) turned by a unit quaternion x y z w: v + 2 w (u × v) + 2 u × (u × v) (closed form)."""
    u, w = np.asarray(quaternion[:3]), quaternion[3]
    once = np.cross(u, point)
    return point + 2 * w * once + 2 * np.cross(u, once)
