from fitting.models.pairing import FitEvaluation, HandCheck, Pairing, SafetyCheck, Verdict
from fitting.models.tack import Pad, Saddle, TreeSpec

__all__ = [
    "FitEvaluation",
    "HandCheck",
    "Pad",
    "Pairing",
    "Saddle",
    "SafetyCheck",
    "TreeSpec",
    "Verdict",
]
