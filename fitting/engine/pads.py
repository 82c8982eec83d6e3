"""How kinds of saddle pad give way, as the stress of each at 25 and 50 % compression.

No stiffness of a saddle pad was found in print. Foams stand on the grades of their standards;
everything else is a working guess, marked so, shown with the result and swept on the page of what
findings hang on. A worn pad enters by the thickness it has now.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import log

from .errors import InvalidShape
from .layers import Layer, of_strain


@dataclass(frozen=True)
class PadKind:
    """Stress at 25 and 50 % compression [Pa], and where that comes from."""

    at_quarter: float
    at_half: float
    source: str


GUESS = "working guess; common practice, no source"
PAD_KINDS: dict[str, PadKind] = {
    "felt": PadKind(40e3, 200e3, f"firm felt, 20-60 and 100-300 kPa: {GUESS}"),
    "wool": PadKind(20e3, 100e3, f"woven wool, the soft end of felt: {GUESS}"),
    "cotton": PadKind(20e3, 100e3, f"woven cotton, as woven wool: {GUESS}"),
    "fleece": PadKind(8e3, 60e3, f"fleece, soft until it is pressed flat: {GUESS}"),
    "foam_closed": PadKind(
        24e3,
        84e3,
        "closed-cell sponge, middle of grade 1 (13.8-34.5 kPa at 25 %, ASTM D1056); "
        f"at 50 % {GUESS}",
    ),
    "foam_open": PadKind(
        4.6e3,
        18e3,
        "upholstery foam of 150 N (4.6 kPa at 25 %, ASTM D3574), flat by 10-20 kPa; "
        f"at 50 % {GUESS}",
    ),
    "gel": PadKind(60e3, 300e3, f"gel, the hard end of felt: {GUESS}"),
}


def pad_layer(kind: str, *, thickness: float) -> Layer:
    """Return the layer of a pad of a kind and a thickness [m].

    Notes
    -----
    p = ps (exp(e / s) - 1) through both points: s = 0.25 / ln(r - 1) and ps = p25 / (r - 2), with r
    the ratio of the two stresses.

    Raises
    ------
    InvalidShape
        If the kind is unknown or the thickness is not above zero.
    """
    if kind not in PAD_KINDS:
        raise InvalidShape(f"must be one of {sorted(PAD_KINDS)}, got {kind!r}", path="pad.material")
    points = PAD_KINDS[kind]
    ratio = points.at_half / points.at_quarter
    return of_strain(
        thickness,
        pressure_scale=points.at_quarter / (ratio - 2),
        strain_scale=0.25 / log(ratio - 1),
    )
