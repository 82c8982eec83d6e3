"""What the model says of each published experiment, and the experiments themselves."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from fitting.calibration.subjects import (
    GENERIC,
    HALF_PAD,
    ROCK,
    SHIM,
    SURFACE,
    Guess,
    Subject,
    frameless,
    opened,
    opened_throughout,
    panelled,
    ridden,
    western,
)
from fitting.engine import FitInputs, evaluate_fit
from fitting.engine.evaluate import solve_cases
from fitting.engine.measures import ZONES, field_of, layout_of

Array = NDArray[np.float64]

DATA = Path(__file__).parent / "data"
WALK_PEAK = 1.2  # maximum over mean force at walk; Fruehwirth et al. 2004, from memory
TROT = 8.6 / 5.0  # trot over walk, rear third, best tree: Meschan et al. 2007


@dataclass(frozen=True)
class Experiment:
    """One published number. `sense` is set for directions, `spread` for the rest."""

    id: str
    role: str
    model: str
    title: str
    value: float
    unit: str
    status: str
    citation: str
    note: str
    spread: float = float("nan")
    sense: str = ""

    def off(self, ours: float) -> float:
        """Return how many spreads our number is off; for a direction 0 if it holds, else inf."""
        if self.role != "direction":
            return (ours - self.value) / self.spread
        holds = ours > self.value if self.sense == "above" else ours < self.value
        return 0.0 if holds else float("inf")


def experiments() -> tuple[Experiment, ...]:
    """Return all published numbers, in the file's order."""
    rows = tomllib.loads((DATA / "experiments.toml").read_text(encoding="utf-8"))["experiment"]
    return tuple(Experiment(**row) for row in rows)


@dataclass(frozen=True, eq=False)
class Reading:
    """What a pressure mat would have shown of one saddle; arrays (2, n, m) over the cells under it.

    Attributes
    ----------
    pressure, force : arrays
        With rider, less what saddle and girth press without one if the mat was zeroed under them
        [Pa], along the normal [N].
    whole : array
        Pressure with rider, all of it [Pa].
    touched : array
        Area in contact with the rider on [m2].
    along : array
        0 at the front of what bears, 1 at its rear.
    inner : array of bool
        The inner half of the bar.
    """

    pressure: Array
    force: Array
    whole: Array
    touched: Array
    along: Array
    inner: NDArray[np.bool_]

    def _cells(self, zone: str) -> NDArray[np.bool_]:
        third = np.clip(np.floor(3 * self.along), 0, 2)
        return np.asarray(third == ZONES.index(zone))

    def load(self, zone: str) -> float:
        """Return the force on a third, along the normals as a mat reads it [N]."""
        return float(self.force[self._cells(zone)].sum())

    def mean(self, zone: str) -> float:
        """Return the mean pressure of a third, over what touches [Pa]."""
        return self.load(zone) / float(self.touched[self._cells(zone)].sum())

    def peak(self, zone: str) -> float:
        """Return the highest pressure of a third [Pa]."""
        return float(self.pressure[self._cells(zone)].max())

    def whole_peak(self, zone: str) -> float:
        """Return the highest pressure of a third, saddle and girth counted [Pa]."""
        return float(self.whole[self._cells(zone)].max())

    @property
    def front_over_rear(self) -> float:
        """Force of the front third over that of the rear third."""
        return self.load("cranial") / self.load("caudal")

    @property
    def inner_over_outer(self) -> float:
        """Mean pressure of the inner over that of the outer half."""
        means = [
            self.force[half].sum() / self.touched[half].sum() for half in (self.inner, ~self.inner)
        ]
        return float(means[0] / means[1])


class World:
    """The experiments under one guess; each saddle is solved when first asked for."""

    def __init__(self, guess: Guess, *, zeroed: bool = True, subject: Subject = GENERIC) -> None:
        self.guess = guess
        self.zeroed = zeroed
        self.subject = subject
        self._seen: dict[str, Reading] = {}

    def of(self, name: str) -> Reading:
        """Return the reading under one of `SADDLES`."""
        if name not in self._seen:
            self._seen[name] = _reading(SADDLES[name](self.guess, self.subject), self.zeroed)
        return self._seen[name]

    def ratio(self, name: str, zone: str, to: str = "best") -> float:
        """Return one saddle's mean pressure over another's."""
        return self.of(name).mean(zone) / self.of(to).mean(zone)

    def model(self, name: str) -> float:
        """Return one number of `MODELS`."""
        return MODELS[name](self)


def _reading(inputs: FitInputs, zeroed: bool) -> Reading:
    """Solve with and without rider; a mat zeroed under the girthed saddle shows the difference."""
    standing, empty = (
        field_of(one.placed, one.settled, one.index, layout_of(one.placed))
        for one in solve_cases(inputs, surface=SURFACE)
    )
    zero = 1.0 if zeroed else 0.0
    return Reading(
        pressure=standing.pressure - zero * empty.pressure,
        force=standing.normal_force - zero * empty.normal_force,
        whole=standing.pressure,
        touched=standing.touched,
        along=standing.along,
        inner=standing.inward,
    )


def _fitting(
    guess: Guess,
    subject: Subject,
    *,
    steps: float = 0.0,
    rock: float = ROCK,
    pad: float = 0.0,
    shim: float = 0.0,
    **how: float,
) -> FitInputs:
    """The panelled saddle, `steps` wider than fits, ridden as `how` says."""
    tree = panelled(subject, place=guess.rider_place, rock=rock)
    if subject.opens_at_head:
        tree = opened(tree, steps, guess.rider_height)
    else:
        tree = opened_throughout(tree, steps)
    layers = guess.layers(pad=pad, shim=shim)
    return ridden(tree, layers, guess.rider_height, subject, **how)


def _made(**how: float) -> Callable[[Guess, Subject], FitInputs]:
    return lambda guess, subject: _fitting(guess, subject, **how)


def _western(guess: Guess, subject: Subject) -> FitInputs:
    return ridden(western(), guess.layers(), guess.rider_height, subject)


SADDLES: dict[str, Callable[[Guess, Subject], FitInputs]] = {
    "best": _made(),
    "narrow": _made(steps=-1),
    "wide": _made(steps=1),
    "very_wide": _made(steps=2),
    "shimmed": _made(steps=1, pad=HALF_PAD, shim=SHIM),
    "best_peak": _made(load=WALK_PEAK),
    "best_trot": _made(load=TROT),
    "narrow_trot": _made(steps=-1, load=TROT),
    "straight": _made(rock=0.0),
    "behind": _made(back_by=0.10),
    "jockey": _made(stirrups=1.0),
    "western": _western,
}


def _frameless_ratio(world: World, code: str) -> float:
    """A measure of the whole saddle without a frame, over that of the fitting one."""
    guess, subject = world.guess, world.subject
    tree = frameless(place=guess.rider_place)
    without = ridden(tree, guess.layers(), guess.rider_height, subject)
    values = [
        evaluate_fit(inputs, surface=SURFACE).case("standing").value(code)
        for inputs in (without, _fitting(guess, subject))
    ]
    return values[0] / values[1]


def _peak_place(world: World) -> float:
    """Place of the highest pressure along the panel, 0 in front."""
    best = world.of("best")
    return float(best.along.flat[int(np.argmax(best.pressure))])


MODELS: dict[str, Callable[[World], float]] = {
    "front_mean": lambda w: w.of("best").mean("cranial"),
    "rear_mean": lambda w: w.of("best").mean("caudal"),
    "wide_middle_mean": lambda w: w.of("wide").mean("middle"),
    "narrow_rear_ratio": lambda w: w.ratio("narrow", "caudal"),
    "narrow_rear_ratio_trot": lambda w: w.ratio("narrow_trot", "caudal", "best_trot"),
    "wider_middle_ratio": lambda w: w.ratio("very_wide", "middle", "wide"),
    "shimmed_front_ratio": lambda w: w.ratio("shimmed", "cranial"),
    "shimmed_rear_ratio": lambda w: w.ratio("shimmed", "caudal"),
    "front_peak_over_mean": lambda w: (
        w.of("best_peak").peak("cranial") / w.of("best").mean("cranial")
    ),
    "western_front_over_rear": lambda w: w.of("western").front_over_rear,
    "narrow_front_over_rear": lambda w: (
        w.of("narrow").front_over_rear / w.of("best").front_over_rear
    ),
    "wide_front_over_rear": lambda w: w.of("wide").front_over_rear / w.of("best").front_over_rear,
    "wide_front_ratio": lambda w: w.ratio("wide", "cranial"),
    "wide_inner_over_outer": lambda w: (
        w.of("wide").inner_over_outer / w.of("best").inner_over_outer
    ),
    "frameless_mean_ratio": lambda w: _frameless_ratio(w, "mean_pressure"),
    "frameless_area_ratio": lambda w: _frameless_ratio(w, "contact_area"),
    "peak_place": _peak_place,
    "bridging_end_ratio": lambda w: (
        w.of("straight").whole_peak("caudal") / w.of("best").whole_peak("caudal")
    ),
    "behind_rear_over_front": lambda w: (
        w.of("behind").mean("caudal") / w.of("behind").mean("cranial")
    ),
    "jockey_front_share": lambda w: (
        w.of("jockey").load("cranial") / sum(w.of("jockey").load(zone) for zone in ZONES)
    ),
}
