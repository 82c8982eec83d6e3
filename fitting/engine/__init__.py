"""The numerical core: a back, a tree, a load; pressures, measures, findings.

Pure functions on arrays and frozen dataclasses, in SI. See `evaluate_fit`.
"""

from .backs import BackNumbers, StationNumbers, back_numbers
from .bands import Band, Narrowing, Sensitivity, Sweep, SweepFinding, SweepPoint
from .compiled import CompilerMissing, prefer
from .errors import EngineError, InvalidShape, LoadOutsideSupport, NotConverged, StabilityLost
from .evaluate import ENGINE_VERSION, evaluate_fit, evaluate_many, solve_cases
from .findings import Finding
from .frames import flexural_stiffness
from .geometry import BackShape, BackSurface, Grid, HeightGrid, build_surface
from .inputs import FitInputs, Placement, Settings, Solved
from .layers import Layer, Layers, Shims, default_layers, felt, wool_flock
from .loads import (
    DRAUGHT,
    GRAVITY,
    LOAD_CASES,
    LoadCase,
    Loads,
    PointForce,
    Rope,
    Strap,
    cases_for,
    rigging_position,
)
from .measures import Measure
from .measuring import Errors
from .motion import BackChange, moved
from .pads import PAD_KINDS, pad_layer
from .placing import settled_place
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
from .results import (
    Allowance,
    CaseResult,
    FitResult,
    PlacementPoint,
    Suggestion,
)
from .rules import RULES, Rule
from .sections import Section
from .sensitivity import sensitivity_of
from .storage import from_dict, to_dict
from .study import STEPS, study_fit
from .suggest import Above, suggest
from .trees import (
    Bar,
    FlexibleBar,
    FlexibleTree,
    FramelessTree,
    Panel,
    PanelTree,
    TwoBarTree,
    UndersideGrid,
)
from .uncertainty import with_uncertainty

__all__ = [
    "ANGLE_AT",
    "DRAUGHT",
    "ENGINE_VERSION",
    "GRAVITY",
    "LOAD_CASES",
    "PAD_KINDS",
    "RULES",
    "STEPS",
    "STRAIGHT_EDGE",
    "Above",
    "Allowance",
    "BackChange",
    "BackNumbers",
    "BackShape",
    "BackSurface",
    "Band",
    "Bar",
    "CaseResult",
    "CompilerMissing",
    "EngineError",
    "Errors",
    "Finding",
    "FitInputs",
    "FitResult",
    "FlexibleBar",
    "FlexibleTree",
    "FramelessTree",
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
    "Narrowing",
    "NotConverged",
    "Panel",
    "PanelTree",
    "Placement",
    "PlacementPoint",
    "PointForce",
    "Rope",
    "Rule",
    "Section",
    "Sensitivity",
    "Settings",
    "Shims",
    "Solved",
    "StabilityLost",
    "Station",
    "StationNumbers",
    "Strap",
    "Suggestion",
    "Sweep",
    "SweepFinding",
    "SweepPoint",
    "TwoBarTree",
    "UndersideGrid",
    "back_numbers",
    "build_surface",
    "cases_for",
    "default_layers",
    "evaluate_fit",
    "evaluate_many",
    "felt",
    "flexural_stiffness",
    "from_dict",
    "half_width_at",
    "height_at",
    "line_curve",
    "moved",
    "pad_layer",
    "power_profile",
    "prefer",
    "profile_curve",
    "resample_profile",
    "rigging_position",
    "sagitta_line",
    "sensitivity_of",
    "settled_place",
    "solve_cases",
    "study_fit",
    "suggest",
    "to_dict",
    "with_uncertainty",
    "wool_flock",
]
