"""Taking in a photo from a phone: what it may be, upright, no larger than needed, nothing hidden.

The picture is drawn anew as a JPEG, so that place, time, owner and camera, which phones write into
photos, are not stored.
"""

import io
import warnings
from dataclasses import dataclass
from typing import IO

import numpy as np
import pillow_heif
from PIL import Image, ImageOps

from horses.digitising.rectify import Array

pillow_heif.register_heif_opener()

MOST_BYTES = 30 * 1024 * 1024
MOST_PIXELS = 64_000_000
LEAST_SIDE_PX = 400
KEPT_SIDE_PX = 2000  # a line 0.5 mm thick on a sheet of 420 mm is then 2 pixels
QUALITY = 90
FORMATS = ("JPEG", "PNG", "WEBP", "HEIF")
FORMAT_WORDS = "JPEG, HEIC, PNG or WebP"


class PhotoRefused(ValueError):
    """A file cannot be taken in as a photo; the message says why in plain words."""


@dataclass(frozen=True)
class CleanPhoto:
    """A JPEG, upright and without anything but the picture."""

    data: bytes
    width_px: int
    height_px: int


def clean_photo(file: IO[bytes], size_bytes: int) -> CleanPhoto:
    """Return the photo in a file as it is to be stored; PhotoRefused says what is wrong with it."""
    if size_bytes > MOST_BYTES:
        raise PhotoRefused(
            f"This file has {size_bytes / 1024**2:.0f} MB; {MOST_BYTES // 1024**2} MB at most. "
            "Take the photo at a smaller size."
        )
    image = _decoded(file)
    if min(image.size) < LEAST_SIDE_PX:
        raise PhotoRefused(
            f"This photo is only {image.width} by {image.height} pixels. At least {LEAST_SIDE_PX} "
            "are needed to see a pen line."
        )
    image.thumbnail((KEPT_SIDE_PX, KEPT_SIDE_PX), Image.Resampling.LANCZOS)
    kept = Image.new("RGB", image.size, "white")
    kept.paste(image, mask=image.getchannel("A") if image.mode == "RGBA" else None)
    out = io.BytesIO()
    kept.save(out, "JPEG", quality=QUALITY)
    return CleanPhoto(out.getvalue(), kept.width, kept.height)


def _decoded(file: IO[bytes]) -> Image.Image:
    """Return the upright picture in RGB or RGBA; its size is looked at before it is unpacked."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            with Image.open(file, formats=FORMATS) as image:
                _check_pixels(image.width * image.height)
                image.draft("RGB", (2 * KEPT_SIDE_PX, 2 * KEPT_SIDE_PX))
                upright = ImageOps.exif_transpose(image)
                return upright.convert("RGBA" if "A" in upright.getbands() else "RGB")
    except Image.DecompressionBombError as bomb:
        raise PhotoRefused(_too_many()) from bomb
    except PhotoRefused:
        raise
    except Exception as problem:  # decoders raise many kinds; none may reach the person
        raise PhotoRefused(
            f"This is not a photo that can be read here. {FORMAT_WORDS} can."
        ) from problem


def _check_pixels(count: int) -> None:
    if count > MOST_PIXELS:
        raise PhotoRefused(_too_many())


def _too_many() -> str:
    return (
        f"This picture unpacks to more than {MOST_PIXELS // 1_000_000} million pixels, which is "
        "more than can be worked on here. Take the photo at a smaller size."
    )


def grey_of(file: IO[bytes]) -> Array:
    """Return a stored photo as brightness, rows by columns, 0 to 255."""
    with Image.open(file, formats=FORMATS) as image:
        return np.asarray(image.convert("L"), dtype=float)
