"""Files from strangers: what is whole is read the same in every format, what is not is refused.

Formats by their own definitions: PLY (G. Turk, Stanford 1994), STL (3D Systems 1989), OBJ
(Wavefront), GLB (Khronos, glTF 2.0, 4.4) [memory]. Files are written here by hand or by trimesh,
a general-purpose library.
"""

import io
import json
import struct
import time
import zipfile
from pathlib import Path

import numpy as np
import pytest
import trimesh

from horses.scanning import load, precheck
from horses.scanning.load import read_scan
from horses.scanning.surface import CannotUseScan, Surface
from tests.horses.scan_makers import scan_of

SMALL = scan_of(step=0.02).surface


def _trimesh(surface: Surface = SMALL) -> trimesh.Trimesh:
    return trimesh.Trimesh(surface.vertices, surface.faces, process=False)


def written(folder: Path, extension: str, data: bytes | None = None) -> Path:
    path = folder / f"scan.{extension}"
    if data is None:
        _trimesh().export(path)
    else:
        path.write_bytes(data)
    return path


def checked(data: bytes, extension: str) -> None:
    precheck.check(io.BytesIO(data), extension)


def area(surface: Surface) -> float:
    corners = surface.vertices[surface.faces]
    cross = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return float(np.linalg.norm(cross, axis=1).sum() / 2)


@pytest.mark.parametrize("extension", precheck.EXTENSIONS)
def test_each_format_gives_the_same_surface(tmp_path: Path, extension: str) -> None:
    found = read_scan(written(tmp_path, extension), extension)
    assert len(found.faces) == len(SMALL.faces)
    assert len(found.vertices) == len(SMALL.vertices)  # also STL, which knows no shared corners
    assert area(found) == pytest.approx(area(SMALL), rel=1e-5)
    assert found.size == pytest.approx(SMALL.size, abs=1e-5)


def test_a_missing_triangle_would_show(tmp_path: Path) -> None:
    """The twin: a surface with one triangle less has another count and another area."""
    less = Surface(SMALL.vertices, SMALL.faces[:-1])
    path = tmp_path / "scan.ply"
    _trimesh(less).export(path)
    found = read_scan(path, "ply")
    assert len(found.faces) != len(SMALL.faces)
    assert area(found) != pytest.approx(area(SMALL), rel=1e-5)


def test_text_files_are_read_too(tmp_path: Path) -> None:
    text = trimesh.exchange.stl.export_stl_ascii(_trimesh()).encode()
    assert len(read_scan(written(tmp_path, "stl", text), "stl").faces) == len(SMALL.faces)
    ply = trimesh.exchange.ply.export_ply(_trimesh(), encoding="ascii")
    assert len(read_scan(written(tmp_path, "ply", ply), "ply").faces) == len(SMALL.faces)


def test_parts_of_a_scene_are_one_surface(tmp_path: Path) -> None:
    scene = trimesh.Scene([_trimesh(), _trimesh().apply_translation([0, 5, 0])])
    path = tmp_path / "scan.glb"
    scene.export(path)
    found = read_scan(path, "glb")
    assert len(found.faces) == 2 * len(SMALL.faces)
    assert found.size[1] == pytest.approx(SMALL.size[1] + 5, abs=1e-4)


@pytest.mark.parametrize(
    "name", ["back.zip", "back.3mf", "back.dae", "back", "back.ply.exe", ".bz2"]
)
def test_only_four_kinds_are_taken(name: str) -> None:
    with pytest.raises(CannotUseScan, match="PLY, OBJ, STL or GLB"):
        precheck.extension_of(name)


def test_capitals_in_a_name_are_no_other_kind() -> None:
    assert precheck.extension_of("BACK.PLY") == "ply"


# --- PLY ----------------------------------------------------------------------------------------


def ply(vertices: int, faces: int, body: bytes, kind: str = "binary_little_endian") -> bytes:
    head = (
        f"ply\nformat {kind} 1.0\nelement vertex {vertices}\n"
        "property float x\nproperty float y\nproperty float z\n"
        f"element face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    )
    return head.encode() + body


TRIANGLE = struct.pack("<9f", 0, 0, 0, 1, 0, 0, 0, 1, 0) + struct.pack("<Biii", 3, 0, 1, 2)


def test_a_whole_ply_of_one_triangle_passes() -> None:
    checked(ply(3, 1, TRIANGLE), "ply")


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (ply(3, 900_000, TRIANGLE), "promises more"),
        (ply(1_000_000, 1, TRIANGLE), "promises more"),
        (ply(10**12, 10**12, TRIANGLE), "more than 2 million"),
        (ply(-1, 1, TRIANGLE), "promises more"),
        (ply(3, 0, TRIANGLE), "no surface"),
        (ply(3, 10**6, b"0 0 0\n", "ascii"), "promises more"),
        (b"ply\n" + b"comment x\n" * 10**5, "not a PLY"),
        (b"PK\x03\x04 something else", "not a PLY"),
        (b"", "not a PLY"),
        (np.random.default_rng(1).bytes(4096), "not a PLY"),
        (b"ply\nformat ascii 1.0\nelement vertex many\nend_header\n", "not a PLY"),
        (b"ply\nformat ascii 1.0\nproperty float x\nend_header\n", "not a PLY"),
    ],
)
def test_a_ply_that_lies_is_refused_before_it_is_opened(data: bytes, words: str) -> None:
    with pytest.raises(CannotUseScan, match=words):
        checked(data, "ply")


# --- STL and OBJ --------------------------------------------------------------------------------


def test_an_stl_must_be_as_long_as_it_says() -> None:
    whole = b"\0" * 80 + struct.pack("<I", 1) + b"\0" * 50
    checked(whole, "stl")
    with pytest.raises(CannotUseScan, match="promises more"):
        checked(whole[:80] + struct.pack("<I", 4_000_000_000) + whole[84:], "stl")
    with pytest.raises(CannotUseScan, match="promises more"):
        checked(whole[:-10], "stl")


def test_an_obj_of_another_kind_or_without_faces_is_refused() -> None:
    checked(b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\n", "obj")
    with pytest.raises(CannotUseScan, match="no surface"):
        checked(b"v 0 0 0\nv 1 0 0\nv 0 1 0\n", "obj")
    for data in (b"", b"hello", b"v 0 0 0\n\0f 1 2 3\n", np.random.default_rng(2).bytes(999)):
        with pytest.raises(CannotUseScan, match="not a"):
            checked(data, "obj")


def test_a_word_cut_by_the_end_of_a_block_is_counted_once() -> None:
    line = b"v 1.5 2.5 3.5\n"
    text = line * (2**21 // len(line)) + b"f 1 2 3\n" * 7
    seen = sum(block.count(b"\nv ") for block in precheck._blocks(io.BytesIO(text), b"\nv "))
    assert seen == 2**21 // len(line)


def test_an_obj_opens_no_other_file(tmp_path: Path) -> None:
    """Material files named in it, here a pipe that would hang whoever opens it, are left alone."""
    import os

    os.mkfifo(tmp_path / "secret")
    text = b"mtllib secret\nmtllib ../../../../etc/passwd\n"
    text += b"v 0 0 0\nv 1 0 0\nv 0 1 0\nusemtl root\nf 1 2 3\n"
    found = read_scan(written(tmp_path, "obj", text), "obj", seconds=30)
    assert len(found.faces) == 1


# --- GLB ----------------------------------------------------------------------------------------


def glb(tree: object, data: bytes = b"", *, json_bytes: bytes | None = None) -> bytes:
    text = json.dumps(tree).encode() if json_bytes is None else json_bytes
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    total = 12 + 8 + len(text) + 8 + len(data)
    head = struct.pack("<4sIIII", b"glTF", 2, total, len(text), 0x4E4F534A)
    return head + text + struct.pack("<II", len(data), 0x004E4942) + data


def tree(**changes: object) -> dict[str, object]:
    whole: dict[str, object] = {
        "asset": {"version": "2.0"},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": [{"mesh": 0}],
        "meshes": [{"primitives": [{"attributes": {"POSITION": 0}}]}],
        "accessors": [{"bufferView": 0, "componentType": 5126, "count": 3, "type": "VEC3"}],
        "bufferViews": [{"buffer": 0, "byteLength": 36}],
        "buffers": [{"byteLength": 36}],
    }
    return whole | changes


CORNERS = struct.pack("<9f", 0, 0, 0, 1, 0, 0, 0, 1, 0)
ACCESSOR = {"bufferView": 0, "componentType": 5126, "type": "VEC3"}


def test_a_whole_glb_of_one_triangle_is_read(tmp_path: Path) -> None:
    assert len(read_scan(written(tmp_path, "glb", glb(tree(), CORNERS)), "glb").faces) == 1


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"accessors": [{"componentType": 5126, "count": 10**9, "type": "VEC3"}]}, "promises more"),
        ({"accessors": [{**ACCESSOR, "count": 10**9}]}, "more than 2 million"),
        ({"accessors": [{**ACCESSOR, "count": 4}]}, "promises more"),
        ({"accessors": [{**ACCESSOR, "count": 3, "byteOffset": 4}]}, "promises more"),
        ({"accessors": [{**ACCESSOR, "count": -3}]}, "promises more"),
        ({"accessors": [{**ACCESSOR, "count": 3, "sparse": {"count": 1}}]}, "promises more"),
        ({"accessors": [{**ACCESSOR, "count": "many"}]}, "not a GLB"),
        ({"bufferViews": [{"buffer": 0, "byteLength": 10**9}]}, "promises more"),
        ({"bufferViews": []}, "not a GLB"),
        ({"buffers": [{"byteLength": 10**9}]}, "promises more"),
        ({"buffers": [{"byteLength": 36, "uri": "http://example.org/x.bin"}]}, "another file"),
        ({"buffers": [{"byteLength": 36, "uri": "../../secret"}]}, "another file"),
        ({"images": [{"uri": "file:///etc/passwd"}]}, "another file"),
        ({"extensionsRequired": ["KHR_draco_mesh_compression"]}, "compressed"),
        ({"nodes": [{"mesh": 0, "children": [1]}, {"children": [0, 1]}]}, "not a GLB"),
        ({"nodes": [{"children": [7]}]}, "not a GLB"),
        ({"nodes": 3}, "not a GLB"),
        ({"meshes": [{}]}, "not a GLB"),
    ],
)
def test_a_glb_that_lies_is_refused_before_it_is_opened(
    changes: dict[str, object], words: str
) -> None:
    with pytest.raises(CannotUseScan, match=words):
        checked(glb(tree(**changes), CORNERS), "glb")


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"glTF",
        b"glTF" + b"\xff" * 100,
        glb({}, json_bytes=b"[" * 100_000),
        glb({}, json_bytes=b"not json at all"),
        glb([1, 2, 3]),
        struct.pack("<4sIIII", b"glTF", 2, 10**9, 10**9, 0x4E4F534A),
    ],
)
def test_a_glb_that_is_none_is_refused(data: bytes) -> None:
    with pytest.raises(CannotUseScan):
        checked(data, "glb")


# --- What only opening shows --------------------------------------------------------------------


def test_places_that_are_not_numbers_are_refused(tmp_path: Path) -> None:
    for bad in (float("nan"), float("inf"), 1e30):
        body = struct.pack("<9f", 0, 0, 0, 1, 0, bad, 0, 1, 0) + TRIANGLE[36:]
        with pytest.raises(CannotUseScan, match="not numbers"):
            read_scan(written(tmp_path, "ply", ply(3, 1, body)), "ply")


def test_corners_that_are_not_there_are_refused(tmp_path: Path) -> None:
    body = TRIANGLE[:36] + struct.pack("<Biii", 3, 0, 1, 999)
    with pytest.raises(CannotUseScan):
        read_scan(written(tmp_path, "ply", ply(3, 1, body)), "ply")


def test_a_scan_without_size_is_refused(tmp_path: Path) -> None:
    body = struct.pack("<9f", *[1.0] * 9) + TRIANGLE[36:]
    with pytest.raises(CannotUseScan, match="no size"):
        read_scan(written(tmp_path, "ply", ply(3, 1, body)), "ply")


def test_a_zip_under_another_name_is_not_unpacked(tmp_path: Path) -> None:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("scan.obj", b"v 0 0 0\n" * 10**6)
    for extension in precheck.EXTENSIONS:
        with pytest.raises(CannotUseScan):
            read_scan(written(tmp_path, extension, packed.getvalue()), extension)


def test_too_many_bytes_or_triangles_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(precheck, "MAX_BYTES", 100)
    with pytest.raises(CannotUseScan, match="larger than"):
        checked(ply(3, 1, TRIANGLE), "ply")


def test_memory_has_an_end(tmp_path: Path) -> None:
    """Under a limit too small to start in, the child ends and says so; with enough it does not."""
    path = written(tmp_path, "stl")
    with pytest.raises(CannotUseScan, match="memory"):
        read_scan(path, "stl", memory=120 * 2**20)
    assert len(read_scan(path, "stl", memory=load.MEMORY_BYTES).faces) == len(SMALL.faces)


def test_time_has_an_end(tmp_path: Path) -> None:
    lines = b"v 1 2 3\nv 4 5 6\nv 7 8 9\n" + b"f 1 2 3\n" * 1_900_000
    begun = time.monotonic()
    with pytest.raises(CannotUseScan, match="longer than"):
        read_scan(written(tmp_path, "obj", lines), "obj", seconds=1)
    assert time.monotonic() - begun < 10


def test_the_child_knows_nothing_of_the_site(monkeypatch: pytest.MonkeyPatch) -> None:
    seen: dict[str, object] = {}

    def run(command: list[str], **how: object) -> object:
        seen.update(how)
        raise AssertionError

    monkeypatch.setenv("SECRET_KEY", "not for strangers")
    monkeypatch.setattr(load.subprocess, "run", run)
    with pytest.raises(AssertionError):
        read_scan(Path("x.ply"), "ply")
    assert "not for strangers" not in str(seen["env"])
    assert set(seen["env"]) == {"OPENBLAS_NUM_THREADS", "PYTHONDONTWRITEBYTECODE"}
