"""The numerical core: a back, a tree, a load; pressures, measures, findings.

Pure functions on arrays and frozen dataclasses, in SI. See `evaluate_fit`.
"""

from .backs import BackNumbers, StationNumbers, back_numbers
from .errors import EngineError, InvalidShape, LoadOutsideSupport, NotConverged, StabilityLost
from .evaluate import (
    ENGINE_VERSION,
    CaseResult,
    FitInputs,
    FitResult,
    Placement,
    Settings,
    evaluate_fit,
    evaluate_many,
)
from .findings import Finding
from .geometry import BackShape, BackSurface, Grid, HeightGrid, build_surface
from .layers import Layer, Layers, Shims, default_layers, felt, wool_flock
from .loads import LOAD_CASES, LoadCase, Loads, PointForce, Strap, rigging_position
from .measures import Measure
from .profiles import (
    ANGLE_AT,
    STRAIGHT_EDGE,
    HalfProfile,
    LineProfile,
    Station,
    half_width_at,
    height_at,
    line_curve,
    power_profile,
    profile_curve,
    resample_profile,
    sagitta_line,
)
from .rules import RULES, Rule
from .sections import Section
from .storage import from_dict, to_dict
from .trees import Bar, Panel, PanelTree, TwoBarTree, UndersideGrid

__all__ = [
    "ANGLE_AT",
    "ENGINE_VERSION",
    "LOAD_CASES",
    "RULES",
    "STRAIGHT_EDGE",
    "BackNumbers",
    "BackShape",
    "BackSurface",
    "Bar",
    "CaseResult",
    "EngineError",
    "Finding",
    "FitInputs",
    "FitResult",
    "Grid",
    "HalfProfile",
    "HeightGrid",
    "InvalidShape",
    "Layer",
    "Layers",
    "LineProfile",
    "LoadCase",
    "LoadOutsideSupport",
    "Loads",
    "Measure",
    "NotConverged",
    "Panel",
    "PanelTree",
    "Placement",
    "PointForce",
    "Rule",
    "Section",
    "Settings",
    "Shims",
    "StabilityLost",
    "Station",
    "StationNumbers",
    "Strap",
    "TwoBarTree",
    "UndersideGrid",
    "back_numbers",
    "build_surface",
    "default_layers",
    "evaluate_fit",
    "evaluate_many",
    "felt",
    "from_dict",
    "half_width_at",
    "height_at",
    "line_curve",
    "power_profile",
    "profile_curve",
    "resample_profile",
    "rigging_position",
    "sagitta_line",
    "to_dict",
    "wool_flock",
]
