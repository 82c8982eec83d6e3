"""What the model leaves out, and what it takes where nobody measured: for pages and documents."""

from dataclasses import dataclass
from typing import Any

from fitting.calibration.stored import Json, shown, stored
from fitting.engine import Loads, default_layers, felt, wool_flock


@dataclass(frozen=True)
class Limit:
    """Something the model leaves out: in plain words, and which measured data would help."""

    title: str
    words: str
    data: str


LIMITS = (
    Limit(
        "The give of a back is not known",
        "No stiffness of a horse's back has been published. Human tissue stands in, moved a little "
        "by experiments with pressure mats. Trust the order of two trees and the direction of a "
        "change, not the single kPa.",
        "force against compression on living backs; how far a saddle sinks as its rider mounts.",
    ),
    Limit(
        "Every place gives by itself",
        "A spot under load does not pull its neighbours down, as skin and muscle do. Under a sharp "
        "edge a back is pressed harder than computed, and just beside it a little as well.",
        "mat readings across one bar's edge, with the bar's shape measured.",
    ),
    Limit(
        "Nothing rubs or slides",
        "Pressure acts straight onto the back. The tree stays where it was laid; shear, heat, "
        "sweat and hair are not computed.",
        "how far saddles creep in a day's work, and pull tests on pads.",
    ),
    Limit(
        "The horse stands still",
        "Muscles do not push back. The ridden cases move the back or the load by a stated amount "
        "and solve it at rest; a gait is a factor on the rider's weight, and only for peaks.",
        "mat readings together with the motion of the back and the rider.",
    ),
    Limit(
        "The rider is a weight on the tree",
        "It sits at a fixed point and height and goes where the tree tips. A rider who balances, "
        "slides in the seat or grips with the knee is not in it.",
        "the saddle's angle and its pressures with one rider under trees of several widths.",
    ),
    Limit(
        "The girth is two straps of a fixed pull",
        "It does not stretch as the horse breathes and does not hold the saddle against rolling.",
        "girth pull at rest and at work, beside the saddle's roll.",
    ),
    Limit(
        "Between the sections the back is a smooth guess",
        "Five sections and two lines make the surface. A hollow or a lump between them is not "
        "seen; the band on a result covers errors of measuring, not what was never measured.",
        "scans of the same backs on the same day.",
    ),
    Limit(
        "Limits come from few horses and from mats",
        "They were read under English saddles on 39 and 26 horses, and the largest field study saw "
        "no clear link between pressure and pain. The levels published for sound horses come out "
        "if the mats were zeroed under the girthed saddle, which is not known; computed pressures "
        "count saddle and girth, and stand higher.",
        "pressures, traced backs and soreness of the same horses, western saddles above all.",
    ),
)


LAYERS = default_layers(pad_thickness=0.0)
FITTED = {
    "tissue_modulus": LAYERS.tissue.modulus_per_area,
    "tissue_scale": LAYERS.tissue.pressure_scale or 0.0,
    "flock_modulus": wool_flock(thickness=0.030).modulus_per_area,
}


def defaults() -> list[dict[str, Any]]:
    """Return what is taken where nobody measured it: what, value, range left open, why."""
    loads, pad = Loads(), felt(thickness=0.019)
    return [
        *(_fitted(p) for p in stored()["parameters"] if p["name"] in FITTED),
        {
            "what": "Give of a 19 mm felt pad at first touch",
            "taken": shown(pad.modulus_per_area, "Pa/m"),
            "range": "a factor of two either way",
            "why": "firm felt, 20-60 kPa at 25 % compression; common practice, no source",
        },
        {
            "what": "Effective height of the rider's weight above the bars",
            "taken": shown(loads.rider_height, "m"),
            "range": "20 to 30 cm",
            "why": "assumption; the experiments are met best with "
            + next(shown(p["fitted"], "m") for p in stored()["parameters"] if p["unit"] == "m"),
        },
        {
            "what": "Girth, pull of each strap",
            "taken": f"{loads.girth_tension:.0f} N",
            "range": "59 to 177 N",
            "why": "set standing, 6-18 kg: Wright 2010, Comp Exerc Physiol",
        },
        {
            "what": "Share of the rider in the stirrups",
            "taken": f"{100 * loads.stirrup_share:.0f} %",
            "range": "0 to 40 %",
            "why": "sitting still; assumption",
        },
    ]


def _fitted(parameter: Json) -> dict[str, str]:
    """A default that comes from the calibration: the engine's own value, the range left open."""
    unit = parameter["unit"]
    return {
        "what": parameter["title"],
        "taken": shown(FITTED[parameter["name"]], unit),
        "range": f"{shown(parameter['low'], unit)} to {shown(parameter['high'], unit)}",
        "why": f"fitted to published experiments from this belief: {parameter['source']}",
    }


def model_account() -> dict[str, Any]:
    """Return limits and defaults as JSON values."""
    return {
        "limits": [f"{limit.title}. {limit.words}" for limit in LIMITS],
        "defaults": defaults(),
    }
