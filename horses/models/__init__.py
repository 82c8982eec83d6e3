from horses.models.base import Side
from horses.models.horse import Horse
from horses.models.jobs import Job
from horses.models.measurement import (
    DEPTHS_MM,
    S5_AHEAD_OF_LAST_RIB_MM,
    STATION_DISTANCE_MM,
    BackMeasurement,
    LineProfile,
    ProfileMethod,
    SectionProfile,
    Station,
)
from horses.models.repeatability import RepeatabilityStudy, RepeatedValue
from horses.models.scan import BackScan
from horses.models.soreness import (
    MIDLINE_SITES,
    SCORE_WORDS,
    Ride,
    Site,
    SiteScore,
    SkinMark,
    SorenessCheck,
    sides_of,
)
from horses.models.tracing import TracingPhoto

__all__ = [
    "DEPTHS_MM",
    "MIDLINE_SITES",
    "S5_AHEAD_OF_LAST_RIB_MM",
    "SCORE_WORDS",
    "STATION_DISTANCE_MM",
    "BackMeasurement",
    "BackScan",
    "Horse",
    "Job",
    "LineProfile",
    "ProfileMethod",
    "RepeatabilityStudy",
    "RepeatedValue",
    "Ride",
    "SectionProfile",
    "Side",
    "Site",
    "SiteScore",
    "SkinMark",
    "SorenessCheck",
    "Station",
    "TracingPhoto",
    "sides_of",
]
