"""The committed result of the calibration, read without computing anything."""

import json
from pathlib import Path
from typing import Any

RESULT = Path(__file__).parent / "data" / "result.json"

# What is shown again with one thing about the saddles changed: title and unit.
MOVED = {
    "front_mean": ("front mean", "Pa"),
    "rear_mean": ("rear mean", "Pa"),
    "narrow_rear_ratio": ("narrow, rear ratio", "1"),
    "wide_front_ratio": ("wide, front ratio", "1"),
    "wider_middle_ratio": ("wider still over wide, middle ratio", "1"),
    "shimmed_front_ratio": ("wide with shims, front ratio", "1"),
}

Json = dict[str, Any]


def stored() -> Json:
    """Return the committed result."""
    data: Json = json.loads(RESULT.read_text(encoding="utf-8"))
    return data


def shown(value: float, unit: str) -> str:
    """Return a number with its unit as read: kPa, kPa per mm, cm."""
    if unit == "Pa":
        return f"{value / 1e3:.1f} kPa"
    if unit == "Pa/m":
        return f"{value / 1e6:.2f} kPa/mm"
    if unit == "m":
        return f"{value * 100:.0f} cm"
    return f"{value:.2f}"


def published(row: Json) -> str:
    """Return a published number with its spread, or the side of it ours must lie on."""
    if row["role"] == "direction":
        return f"{row['sense']} {row['value']:g}"
    return f"{shown(row['value'], row['unit'])} ± {shown(row['spread'], row['unit'])}"
