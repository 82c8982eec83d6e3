"""Photos from strangers' phones: what is taken in, how, and what is refused.

Standards named beside each check: EXIF orientation and GPS tags are those of Exif 2.3 (JEITA
CP-3451C), tags 0x0112 and 0x8825; HEIC is ISO/IEC 23008-12.
"""

import io
import struct
import zlib
from typing import Any

import numpy as np
import pillow_heif
import pytest
from PIL import Image

from horses.digitising.photos import (
    KEPT_SIDE_PX,
    MOST_BYTES,
    MOST_PIXELS,
    CleanPhoto,
    PhotoRefused,
    clean_photo,
)

ORIENTATION, GPS = 0x0112, 0x8825


def picture(width: int = 800, height: int = 600) -> Image.Image:
    """Return a picture red at its upper left, blue at its lower right."""
    image = Image.new("RGB", (width, height), "white")
    image.paste((220, 20, 20), (0, 0, width // 4, height // 4))
    image.paste((20, 20, 220), (3 * width // 4, 3 * height // 4, width, height))
    return image


def cleaned(image: Image.Image, kind: str = "JPEG", **more: Any) -> CleanPhoto:
    file = io.BytesIO()
    image.save(file, kind, **more)
    size = file.tell()
    file.seek(0)
    return clean_photo(file, size)


def corner_colours(photo: CleanPhoto) -> tuple[str, str]:
    with Image.open(io.BytesIO(photo.data)) as image:
        values = np.asarray(image, dtype=int)
    names = ("red", "green", "blue")

    def name(pixel: Any) -> str:
        return names[int(pixel.argmax())] if np.ptp(pixel) > 80 else "white"

    return name(values[10, 10]), name(values[-10, -10])


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "HEIF"])
def test_phones_formats_are_taken_in(kind: str) -> None:
    photo = cleaned(picture(), kind)
    assert (photo.width_px, photo.height_px) == (800, 600)
    assert photo.data[:3] == b"\xff\xd8\xff"  # a JPEG, whatever came in
    assert corner_colours(photo) == ("red", "blue")


def test_a_photo_held_sideways_is_turned_upright() -> None:
    """Orientation 6: the camera was turned, so the stored picture needs 90 degrees clockwise."""
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    lying = picture().transpose(Image.Transpose.ROTATE_90)
    photo = cleaned(lying, exif=exif)
    assert (photo.width_px, photo.height_px) == (800, 600)
    assert corner_colours(photo) == ("red", "blue")
    untouched = cleaned(lying)
    assert (untouched.width_px, untouched.height_px) == (600, 800)  # the twin: without the tag


def test_a_heic_photo_held_sideways_is_turned_upright() -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = 6
    photo = cleaned(picture().transpose(Image.Transpose.ROTATE_90), "HEIF", exif=exif.tobytes())
    assert (photo.width_px, photo.height_px) == (800, 600)
    assert corner_colours(photo) == ("red", "blue")


@pytest.mark.parametrize("kind", ["JPEG", "HEIF", "PNG", "WEBP"])
def test_place_and_camera_are_not_stored(kind: str) -> None:
    exif = Image.Exif()
    exif[0x010F] = "Hidden camera maker"
    exif.get_ifd(GPS)[2] = (51.0, 28.0, 38.0)
    exif.get_ifd(GPS)[1] = "N"
    file = io.BytesIO()
    picture().save(file, kind, exif=exif.tobytes())
    sent = file.getvalue()
    with Image.open(io.BytesIO(sent)) as image:
        assert image.getexif().get_ifd(GPS)  # the twin: it was there when it was sent
    photo = clean_photo(io.BytesIO(sent), len(sent))
    with Image.open(io.BytesIO(photo.data)) as kept:
        assert not kept.getexif()
        assert "exif" not in kept.info
        assert "xmp" not in kept.info
    assert b"Hidden camera" not in photo.data
    assert b"Exif" not in photo.data


def test_what_is_see_through_becomes_paper() -> None:
    image = Image.new("RGBA", (600, 500), (0, 0, 0, 0))
    with Image.open(io.BytesIO(cleaned(image, "PNG").data)) as kept:
        assert np.asarray(kept).min() > 240


def test_a_large_photo_is_kept_no_larger_than_needed() -> None:
    photo = cleaned(picture(4000, 3000))
    assert (photo.width_px, photo.height_px) == (KEPT_SIDE_PX, 1500)


def refusal(data: bytes, size: int | None = None) -> str:
    with pytest.raises(PhotoRefused) as refused:
        clean_photo(io.BytesIO(data), len(data) if size is None else size)
    return str(refused.value)


def png(width: int, height: int, rows: bytes = b"") -> bytes:
    """Return a PNG that claims this size (ISO/IEC 15948: signature, IHDR, IDAT, IEND)."""

    def chunk(kind: bytes, body: bytes) -> bytes:
        return (
            struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
        )

    header = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", header) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    )


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"no picture at all",
        b"%PDF-1.7 hello",
        b"<svg xmlns='http://www.w3.org/2000/svg'><script>1</script></svg>",
        b"\xff\xd8\xff\xe0" + b"\x00" * 64,
        b"GIF89a" + b"\x01" * 40,
        png(800, 600, b"broken"),
    ],
    ids=["empty", "text", "pdf", "svg", "cut short", "gif", "broken png"],
)
def test_what_is_no_photo_is_refused_in_words(data: bytes) -> None:
    assert "not a photo that can be read here" in refusal(data)


def test_a_photo_cut_off_half_way_is_refused() -> None:
    file = io.BytesIO()
    picture(1600, 1200).save(file, "JPEG")
    assert "not a photo" in refusal(file.getvalue()[: file.tell() // 2])


@pytest.mark.parametrize("side", [9_000, 60_000, 2**31 - 1])
def test_a_small_file_that_unpacks_to_too_much_is_refused_before_unpacking(side: int) -> None:
    bomb = png(side, side, zlib.compress(b"\x00" * 1000))
    assert len(bomb) < 1000
    words = refusal(bomb)
    assert "million pixels" in words or "not a photo" in words
    assert MOST_PIXELS < 9_000 * 9_000


def test_a_heic_with_too_many_pixels_is_refused() -> None:
    side = 8_200
    heif = pillow_heif.from_pillow(Image.new("L", (side, side)))
    file = io.BytesIO()
    heif.save(file, quality=10)
    assert side * side > MOST_PIXELS
    assert "million pixels" in refusal(file.getvalue())


def test_a_file_too_large_is_refused_unread() -> None:
    assert "MB at most" in refusal(b"", size=MOST_BYTES + 1)


def test_a_stamp_is_refused() -> None:
    file = io.BytesIO()
    picture(300, 200).save(file, "PNG")
    assert "300 by 200 pixels" in refusal(file.getvalue())
