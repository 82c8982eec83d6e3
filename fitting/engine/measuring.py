"""How far off what goes into an evaluation may be: standard deviations and where they come from."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace


@dataclass(frozen=True)
class Errors:
    """Standard deviations of what goes into an evaluation.

    Two traces of a section within 4 mm are accepted (common practice, no source): if that holds for
    95 % of repeats, one trace has 4 mm / (1.96 sqrt 2) = 1.44 mm. No repeatability of a flexible
    curve on horses is published; a practice's own repeats replace it.

    Attributes
    ----------
    half_width : float
        Of a traced section's half-widths [m]; 1.44 mm, above.
    half_width_at : tuple of (float, float)
        The same station by station, left and right, where the repeats tell it [m].
    line : float
        Of a lengthwise line's heights [m]; as a section, the same curve; assumption.
    scan : float
        Of a scanned height [m]; assumption.
    depth_length, along_length : float
        Over which an error stays alike, down a section and along a line [m]; assumption: a third of
        a section, a quarter of a line.
    slope : float
        Of a bar or panel against the level [rad]; assumption: a bevel reads to 2 degrees at worst.
    width, length, curve : float
        Of widths and spreads, of lengths, of rock, crown and flares [m]; assumption: a tape's.
    bending : float
        Of the logarithm of a bar's bending stiffness; assumption.
    tip : float
        Of the front tip behind the blade, felt through skin [m]; assumption, about a fingertip.
    tissue, pad, flock : float
        Of the logarithm of a layer's stiffness. Sweep 30-200 kPa of human muscle (Isogai et al.
        2022) and 20-60 kPa of firm felt, 90 % of the draws within: ln(high / low) / (2 x 1.645).
        Flock as felt; assumption.
    rider, horse : float
        Of their masses, relative; clothes and meals, and the girth-and-length formula (Carroll and
        Huntington 1988, about 5 %).
    seat, aside, height, rigging : float
        Of the rider's place fore and aft and to a side, of the height of their weight (sweep
        0.2-0.3 m), of the girth's place [m]; assumptions.
    stirrups : float
        Of the share in the stirrups; assumption.
    girth, rope : float
        Of the girth's tension, relative: 6-18 kg set standing (Wright 2010), 90 % within; of the
        pull of a rope, as the girth; assumption.
    """

    half_width: float = 1.44e-3
    half_width_at: tuple[tuple[float, float], ...] = ()
    line: float = 1.44e-3
    scan: float = 2.0e-3
    depth_length: float = 0.050
    along_length: float = 0.150
    slope: float = 0.0175
    width: float = 2.0e-3
    length: float = 3.0e-3
    curve: float = 1.0e-3
    bending: float = 0.20
    tip: float = 5.0e-3
    tissue: float = 0.577
    pad: float = 0.334
    flock: float = 0.334
    rider: float = 0.02
    horse: float = 0.05
    seat: float = 0.010
    aside: float = 0.005
    height: float = 0.030
    rigging: float = 0.010
    stirrups: float = 0.05
    girth: float = 0.30
    rope: float = 0.30

    def scaled(self, factor: float) -> Errors:
        """Return all of them times a factor, the lengths of likeness as they are."""
        kept = {"depth_length", "along_length", "half_width_at"}
        grown = {f.name: factor * getattr(self, f.name) for f in fields(self) if f.name not in kept}
        at = tuple((factor * left, factor * right) for left, right in self.half_width_at)
        return replace(self, half_width_at=at, **grown)
