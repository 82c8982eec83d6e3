"""Draws photos of tracings of known curves, for tests and for the invented practice.

A sheet with a pen line is seen by a pinhole camera that is not square to it, under uneven light
with a shadow, with paper fibres, noise of the sensor and a little blur.
"""

import io
from dataclasses import dataclass, field, replace
from math import cos, radians, sin

import numpy as np
import numpy.typing as npt
from PIL import Image, ImageDraw, ImageFilter

from horses.digitising.rectify import Array, homography, mapped

OVERSAMPLE = 2


@dataclass(frozen=True)
class Sheet:
    """Paper in mm with what is drawn on it; lines are (n, 2) in mm from its upper left corner."""

    width_mm: float
    height_mm: float
    pen: list[Array]
    pen_mm: float = 0.7
    pen_colour: tuple[int, int, int] = (28, 32, 60)
    square_mm: float | None = None
    square_colour: tuple[int, int, int] = (176, 202, 222)
    rectangle: tuple[float, float, float, float] | None = None
    ticks: list[Array] = field(default_factory=list)


@dataclass(frozen=True)
class Camera:
    """How the photo is taken. Angles in degrees; `light` 0 to 1 is how uneven the light is."""

    width_px: int = 1600
    height_px: int = 1200
    tilt: float = 0.0
    pan: float = 0.0
    roll: float = 0.0
    fills: float = 0.86
    light: float = 0.0
    shadow: float = 0.0
    texture: float = 0.0
    noise: float = 0.0
    blur: float = 0.7
    seed: int = 1


@dataclass(frozen=True)
class Photo:
    """A rendered photo and the truth about it: `to_px` carries mm on the sheet to pixels."""

    image: Image.Image
    to_px: Array

    def at(self, mm: npt.ArrayLike) -> Array:
        return mapped(self.to_px, mm)

    def as_file(self) -> tuple[io.BytesIO, int]:
        """Return the photo as a phone would send it, and its size in bytes."""
        file = io.BytesIO()
        self.image.save(file, "JPEG", quality=92)
        size = file.tell()
        file.seek(0)
        return file, size


def photograph(sheet: Sheet, camera: Camera) -> Photo:
    """Return the photo of a sheet lying on a dark bench."""
    chance = np.random.default_rng(camera.seed)
    to_px = _view(sheet, camera)
    flat, px_per_mm = _drawn(sheet, camera, chance)
    size = (camera.width_px, camera.height_px)
    from_px = np.linalg.inv(to_px @ np.diag([1 / px_per_mm, 1 / px_per_mm, 1]))
    # The middle of pixel n lies at n here and at n + 0.5 there.
    half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
    shifted = half @ from_px @ np.linalg.inv(half)
    data = (shifted / shifted[2, 2]).ravel()[:8]
    seen = flat.transform(size, Image.Transform.PERSPECTIVE, data, Image.Resampling.BICUBIC)
    mask = Image.new("L", flat.size, 255).transform(
        size, Image.Transform.PERSPECTIVE, data, Image.Resampling.BILINEAR
    )
    bench = Image.fromarray(_bench(size, chance))
    bench.paste(seen, mask=mask)
    if camera.blur:
        bench = bench.filter(ImageFilter.GaussianBlur(camera.blur))
    return Photo(Image.fromarray(_lit(np.asarray(bench), camera, chance)), to_px)


def _view(sheet: Sheet, camera: Camera) -> Array:
    """Return the homography from the sheet in mm to pixels, of a camera about 60 cm away."""
    corners = np.array(
        [(0, 0), (sheet.width_mm, 0), (sheet.width_mm, sheet.height_mm), (0, sheet.height_mm)]
    )
    centred = corners - corners.mean(axis=0)
    turned = np.column_stack([centred, np.zeros(4)]) @ _turn(camera).T
    far = 1.4 * max(sheet.width_mm, sheet.height_mm)
    seen = turned[:, :2] * (far / (far + turned[:, 2]))[:, None]
    middle = (seen.min(axis=0) + seen.max(axis=0)) / 2
    size = np.array([camera.width_px, camera.height_px])
    scale = camera.fills * (size / np.ptp(seen, axis=0)).min()
    return homography(corners, (seen - middle) * scale + size / 2)


def _turn(camera: Camera) -> Array:
    tilt, pan, roll = radians(camera.tilt), radians(camera.pan), radians(camera.roll)
    about_x = np.array([[1, 0, 0], [0, cos(tilt), -sin(tilt)], [0, sin(tilt), cos(tilt)]])
    about_y = np.array([[cos(pan), 0, sin(pan)], [0, 1, 0], [-sin(pan), 0, cos(pan)]])
    about_z = np.array([[cos(roll), -sin(roll), 0], [sin(roll), cos(roll), 0], [0, 0, 1]])
    return np.asarray(about_z @ about_y @ about_x)


def _drawn(sheet: Sheet, camera: Camera, chance: np.random.Generator) -> tuple[Image.Image, float]:
    """Return the sheet seen square on, and its pixels per mm."""
    px_per_mm = OVERSAMPLE * camera.fills * camera.width_px / sheet.width_mm
    size = (round(sheet.width_mm * px_per_mm), round(sheet.height_mm * px_per_mm))
    image = Image.new("RGB", size, (244, 242, 234))
    draw = ImageDraw.Draw(image)
    if sheet.square_mm:
        _squares(draw, sheet, px_per_mm)
    if sheet.rectangle:
        box = [value * px_per_mm for value in sheet.rectangle]
        draw.rectangle(box, outline=(40, 40, 40), width=max(1, round(0.5 * px_per_mm)))
    for line, width in [(p, sheet.pen_mm) for p in sheet.pen] + [(t, 0.5) for t in sheet.ticks]:
        points = [tuple(point) for point in line * px_per_mm]
        pen = max(1, round(width * px_per_mm))
        draw.line(points, fill=sheet.pen_colour, width=pen, joint="curve")
    return _textured(image, camera, chance), px_per_mm


def _squares(draw: ImageDraw.ImageDraw, sheet: Sheet, px_per_mm: float) -> None:
    step, pen = sheet.square_mm or 1.0, max(1, round(0.25 * px_per_mm))
    for x in np.arange(step, sheet.width_mm, step) * px_per_mm:
        draw.line([(x, 0), (x, sheet.height_mm * px_per_mm)], fill=sheet.square_colour, width=pen)
    for y in np.arange(step, sheet.height_mm, step) * px_per_mm:
        draw.line([(0, y), (sheet.width_mm * px_per_mm, y)], fill=sheet.square_colour, width=pen)


def _textured(image: Image.Image, camera: Camera, chance: np.random.Generator) -> Image.Image:
    """Return the sheet with fibres and blotches."""
    if not camera.texture:
        return image
    values = np.asarray(image, dtype=np.float32)
    high, wide = values.shape[:2]
    fine = chance.normal(0, camera.texture, (high // 2, wide // 2)).astype(np.float32)
    coarse = chance.normal(0, camera.texture, (high // 40 + 1, wide // 40 + 1)).astype(np.float32)
    layers = (
        np.asarray(Image.fromarray(layer).resize((wide, high), Image.Resampling.BICUBIC))
        for layer in (fine, coarse)
    )
    shade = np.asarray(1 + sum(layers))
    return Image.fromarray(np.clip(values * shade[..., None], 0, 255).astype(np.uint8))


def _bench(size: tuple[int, int], chance: np.random.Generator) -> npt.NDArray[np.uint8]:
    """Return a dark wooden bench with its grain."""
    wide, high = size
    grain = chance.normal(0, 9, high // 6 + 1)
    rows = np.interp(np.arange(high), np.arange(len(grain)) * 6.0, grain)
    return np.clip(
        np.array([92, 70, 52])[None, None, :] + rows[:, None, None] + np.zeros((high, wide, 1)),
        0,
        255,
    ).astype(np.uint8)


def _lit(
    values: npt.NDArray[np.uint8], camera: Camera, chance: np.random.Generator
) -> npt.NDArray[np.uint8]:
    """Return the photo under uneven light with a soft-edged shadow across it, and noise."""
    high, wide = values.shape[:2]
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    light = 1 - camera.light * (0.6 * x / wide + 0.4 * y / high)
    edge = 0.45 * wide + 0.25 * wide * (y / high)
    light *= 1 - camera.shadow / (1 + np.exp(-np.clip((x - edge) / 14.0, -30, 30)))
    noisy = values * light[..., None] + chance.normal(0, camera.noise, (high, wide, 3))
    return np.asarray(np.clip(noisy, 0, 255), dtype=np.uint8)


def section_sheet(
    left: npt.ArrayLike,
    right: npt.ArrayLike,
    *,
    margin_mm: float = 25.0,
    size_mm: tuple[float, float] | None = None,
    **more: object,
) -> tuple[Sheet, Array]:
    """Return a sheet with a section from behind, and where its midline is on it.

    `left` and `right` are [depth_mm, half_width_mm] pairs in order of depth, as many as are wanted
    for a smooth line. Without `size_mm` the sheet is cut to the line and its margin.
    """
    near, off = np.asarray(left, dtype=float), np.asarray(right, dtype=float)
    across = np.concatenate([-near[::-1, 1], off[1:, 1]])
    down = np.concatenate([near[::-1, 0], off[1:, 0]])
    width, height = size_mm or (np.ptp(across) + 2 * margin_mm, np.ptp(down) + 2 * margin_mm)
    middle = np.array([(width - np.ptp(across)) / 2 - across.min(), (height - np.ptp(down)) / 2])
    line = np.column_stack([across, down]) + middle
    tick = np.array([middle - (0, 14), middle - (0, 3)])
    return replace(Sheet(width, height, [line], ticks=[tick]), **more), middle  # type: ignore[arg-type]


def line_sheet(
    along: npt.ArrayLike, *, margin_mm: float = 30.0, **more: object
) -> tuple[Sheet, Array]:
    """Return a sheet with a lengthwise line, front on the left, and where its zero is on it.

    `along` holds [distance_mm, height_mm] pairs, the first of them at the blade.
    """
    points = np.asarray(along, dtype=float)
    top = points[:, 1].max()
    zero = np.array([margin_mm, margin_mm + top - points[0, 1]])
    line = np.column_stack([points[:, 0], -(points[:, 1] - points[0, 1])]) + zero
    width = np.ptp(points[:, 0]) + 2 * margin_mm
    height = np.ptp(points[:, 1]) + 2 * margin_mm
    tick = zero + np.array([(0, 4), (0, 14)])
    return replace(Sheet(width, height, [line], ticks=[tick]), **more), zero  # type: ignore[arg-type]
