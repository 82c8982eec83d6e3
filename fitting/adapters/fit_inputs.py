"""One pairing on one measured back becomes the engine's inputs.

The only place where millimetres, kilograms and degrees turn into SI is this module with `backs`
and `tack`. Left stays left: the engine's first side is the horse's near side.
"""

from dataclasses import dataclass

from fitting.adapters.backs import back_shape_of
from fitting.adapters.gathering import Gathering
from fitting.adapters.measuring_errors import errors_of
from fitting.adapters.tack import horse_mass_of, layers_of, loads_of, tree_of
from fitting.adapters.work import cases_of, with_rope
from fitting.engine import FitInputs, Placement
from fitting.models import Pairing
from horses.models import BackMeasurement

MM = 1e-3


@dataclass(frozen=True)
class Gathered:
    """Inputs ready for the engine, with the account of where they come from."""

    inputs: FitInputs
    account: Gathering


def gather_fit_inputs(pairing: Pairing, measurement: BackMeasurement) -> Gathered:
    """Read everything an evaluation needs (related rows prefetched).

    Raises CannotEvaluate, listing in plain words what is still to be measured.
    """
    account = Gathering()
    back = back_shape_of(measurement, account)
    tree = tree_of(pairing.saddle, account)
    tip = account.need(pairing, "tip_behind_blade_mm")
    layers = layers_of(pairing, account)
    horse_mass = horse_mass_of(measurement, account)
    loads = with_rope(loads_of(pairing, account), pairing, horse_mass, account)
    cases = cases_of(pairing, account)
    account.check_complete()
    assert tree is not None  # a missing tree is in the account
    inputs = FitInputs(
        back=back,
        tree=tree,
        placement=Placement(tip=tip * MM),
        layers=layers,
        loads=loads,
        horse_mass=horse_mass,
        cases=cases,
        errors=errors_of(measurement, back, account),
    )
    return Gathered(inputs, account)


def fit_inputs_of(pairing: Pairing, measurement: BackMeasurement) -> FitInputs:
    """Return the engine's inputs alone; raises CannotEvaluate."""
    return gather_fit_inputs(pairing, measurement).inputs
