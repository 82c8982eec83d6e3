"""Does a file hold what its own header promises? Asked before anything is made room for.

Only what is cheap to know: sizes and counts. The formats: PLY (G. Turk, Stanford 1994), STL
(3D Systems 1989), OBJ (Wavefront), GLB (Khronos, glTF 2.0, section 4.4 and 5.1) [memory].
"""

from __future__ import annotations

import json
import os
import struct
from collections.abc import Callable, Iterator
from typing import IO, Any

from horses.scanning.surface import CannotUseScan

EXTENSIONS = ("ply", "obj", "stl", "glb")
MAX_BYTES = 200 * 2**20
MAX_FACES = 2_000_000
MAX_VERTICES = 3 * MAX_FACES
MAX_JSON = 16 * 2**20
HEADER_BYTES = 64 * 1024

WRONG_KIND = "Send the scan as PLY, OBJ, STL or GLB: those are the kinds that can be read."
TOO_LARGE = f"This file is larger than {MAX_BYTES // 2**20} MB. Export it with less detail."
TOO_MANY = (
    f"This scan has more than {MAX_FACES / 1e6:.0f} million triangles. Export it with less detail."
)
CUT_SHORT = "The file promises more than it holds: it may have been cut short. Export it again."
COMPRESSED = "This GLB is compressed in a way that cannot be read. Export it without compression."
ELSEWHERE = "This GLB keeps part of the scan in another file. Export it as one file."
POINTS_ONLY = "This file holds points but no surface. Export the scan as a mesh."


def not_a(extension: str) -> CannotUseScan:
    return CannotUseScan(
        f"This is not a {extension.upper()} file, or it is damaged. Export the scan again."
    )


def extension_of(name: str) -> str:
    """Return the kind a file's name says it is; raises CannotUseScan for any other."""
    extension = name.rpartition(".")[2].lower()
    if extension not in EXTENSIONS:
        raise CannotUseScan(WRONG_KIND)
    return extension


def check(file: IO[bytes], extension: str) -> None:
    """Refuse, in words, a file that is too large or whose counts cannot be true."""
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    if size > MAX_BYTES:
        raise CannotUseScan(TOO_LARGE)
    CHECKS[extension](file, size)
    file.seek(0)


# --- PLY ----------------------------------------------------------------------------------------

PLY_BYTES = {
    **dict.fromkeys(("char", "uchar", "int8", "uint8"), 1),
    **dict.fromkeys(("short", "ushort", "int16", "uint16"), 2),
    **dict.fromkeys(("int", "uint", "float", "int32", "uint32", "float32"), 4),
    **dict.fromkeys(("double", "float64", "int64", "uint64"), 8),
}


def _check_ply(file: IO[bytes], size: int) -> None:
    lines = _ply_header(file)
    is_text = any(line[:2] == ["format", "ascii"] for line in lines)
    counts, bytes_of = _ply_elements(lines)
    _check_counts(counts.get("vertex", 0), counts.get("face", 0))
    if not counts.get("face"):
        raise CannotUseScan(POINTS_ONLY)
    # In text each row is at least one figure and its line end.
    promised = sum(n * (2 if is_text else bytes_of[name]) for name, n in counts.items())
    if promised > size - file.tell():
        raise CannotUseScan(CUT_SHORT)


def _ply_header(file: IO[bytes]) -> list[list[str]]:
    if file.readline(8).strip() != b"ply":
        raise not_a("ply")
    lines: list[list[str]] = []
    while file.tell() < HEADER_BYTES:
        line = file.readline(1024).decode("ascii", "replace").split()
        if line == ["end_header"]:
            return lines
        if line:
            lines.append(line)
    raise not_a("ply")


def _ply_elements(lines: list[list[str]]) -> tuple[dict[str, int], dict[str, int]]:
    """Return how many rows of each element are promised, and the fewest bytes of one row."""
    counts: dict[str, int] = {}
    row: dict[str, int] = {}
    name = ""
    try:
        for line in lines:
            if line[0] == "element":
                name = line[1]
                counts[name], row[name] = int(line[2]), 0
            elif line[0] == "property":
                row[name] += PLY_BYTES[line[2] if line[1] == "list" else line[1]]
    except (KeyError, IndexError, ValueError) as problem:
        raise not_a("ply") from problem
    return counts, row


def _check_counts(vertices: int, faces: int) -> None:
    if vertices < 0 or faces < 0:
        raise CannotUseScan(CUT_SHORT)
    if vertices > MAX_VERTICES or faces > MAX_FACES:
        raise CannotUseScan(TOO_MANY)


# --- STL and OBJ --------------------------------------------------------------------------------


def _check_stl(file: IO[bytes], size: int) -> None:
    start = file.read(84)
    if len(start) == 84:
        (count,) = struct.unpack("<I", start[80:])
        if size == 84 + 50 * count:
            return _check_counts(3 * count, count)
    if not start.lstrip().lower().startswith(b"solid"):
        raise CannotUseScan(CUT_SHORT)
    _check_counts(0, sum(block.count(b"endfacet") for block in _blocks(file, b"endfacet")))
    return None


def _check_obj(file: IO[bytes], size: int) -> None:
    faces = vertices = 0
    for block in _blocks(file, b"\nv "):
        if b"\0" in block:
            raise not_a("obj")
        faces += block.count(b"\nf ")
        vertices += block.count(b"\nv ")
    if not vertices:
        raise not_a("obj")
    if not faces:
        raise CannotUseScan(POINTS_ONLY)
    _check_counts(vertices, faces)


def _blocks(file: IO[bytes], word: bytes) -> Iterator[bytes]:
    """Read a file through, so that no `word` is cut in two or seen twice."""
    file.seek(0)
    tail = b"\n"
    while block := file.read(2**20):
        yield tail + block
        tail = block[-(len(word) - 1) :]


# --- GLB ----------------------------------------------------------------------------------------

COMPONENT_BYTES = {5120: 1, 5121: 1, 5122: 2, 5123: 2, 5125: 4, 5126: 4}
PARTS = {"SCALAR": 1, "VEC2": 2, "VEC3": 3, "VEC4": 4, "MAT2": 4, "MAT3": 9, "MAT4": 16}
UNREADABLE = (KeyError, IndexError, ValueError, TypeError, AttributeError, RecursionError)


def _check_glb(file: IO[bytes], size: int) -> None:
    tree, held = _glb_chunks(file, size)
    try:
        _check_buffers(tree, held)
        for accessor in tree.get("accessors", []):
            _check_accessor(tree, accessor)
        _check_nodes(tree)
    except UNREADABLE as problem:
        raise not_a("glb") from problem


def _glb_chunks(file: IO[bytes], size: int) -> tuple[dict[str, Any], int]:
    """Return the description and how many bytes of data stand behind it."""
    head = file.read(20)
    if len(head) < 20 or head[:4] != b"glTF":
        raise not_a("glb")
    version, total, json_bytes, kind = struct.unpack("<IIII", head[4:])
    if version != 2 or kind != 0x4E4F534A:
        raise not_a("glb")
    if total > size or json_bytes > size - 20:
        raise CannotUseScan(CUT_SHORT)
    if json_bytes > MAX_JSON:
        raise not_a("glb")
    try:
        tree = json.loads(file.read(json_bytes))
    except (ValueError, RecursionError) as problem:
        raise not_a("glb") from problem
    if not isinstance(tree, dict):
        raise not_a("glb")
    second = file.read(8)
    held = struct.unpack("<I", second[:4])[0] if len(second) == 8 else 0
    if held > size - file.tell():
        raise CannotUseScan(CUT_SHORT)
    return tree, held


def _check_buffers(tree: dict[str, Any], held: int) -> None:
    needed = set(tree.get("extensionsRequired", []))
    if any("draco" in name.lower() or "meshopt" in name.lower() for name in needed):
        raise CannotUseScan(COMPRESSED)
    for buffer in tree.get("buffers", []):
        if "uri" in buffer:
            raise CannotUseScan(ELSEWHERE)
        if int(buffer["byteLength"]) > held + 3:  # padded to four
            raise CannotUseScan(CUT_SHORT)
    if any(not str(i.get("uri", "data:")).startswith("data:") for i in tree.get("images", [])):
        raise CannotUseScan(ELSEWHERE)


def _check_accessor(tree: dict[str, Any], accessor: dict[str, Any]) -> None:
    count = int(accessor["count"])
    if count < 0 or "sparse" in accessor or "bufferView" not in accessor:
        raise CannotUseScan(CUT_SHORT)
    if count > 3 * MAX_VERTICES:
        raise CannotUseScan(TOO_MANY)
    view = tree["bufferViews"][int(accessor["bufferView"])]
    buffer = tree["buffers"][int(view["buffer"])]
    start = int(view.get("byteOffset", 0))
    length = int(view["byteLength"])
    item = COMPONENT_BYTES[accessor["componentType"]] * PARTS[accessor["type"]]
    needs = int(accessor.get("byteOffset", 0)) + count * item
    if min(start, length) < 0 or start + length > int(buffer["byteLength"]) or needs > length:
        raise CannotUseScan(CUT_SHORT)


def _check_nodes(tree: dict[str, Any]) -> None:
    """Each node has one parent (glTF 2.0, 3.5.2), so nothing is repeated without end."""
    nodes = tree.get("nodes", [])
    children = [int(child) for node in nodes for child in node.get("children", [])]
    if len(children) != len(set(children)) or any(not 0 <= c < len(nodes) for c in children):
        raise not_a("glb")
    faces = [_faces_of(tree, mesh) for mesh in tree.get("meshes", [])]
    shown = [faces[int(node["mesh"])] for node in nodes if "mesh" in node]
    _check_counts(0, sum(shown))


def _faces_of(tree: dict[str, Any], mesh: dict[str, Any]) -> int:
    total = 0
    for part in mesh["primitives"]:
        named = part.get("indices", part["attributes"]["POSITION"])
        total += int(tree["accessors"][int(named)]["count"]) // 3
    return total


CHECKS: dict[str, Callable[[IO[bytes], int], None]] = {
    "ply": _check_ply,
    "stl": _check_stl,
    "obj": _check_obj,
    "glb": _check_glb,
}
