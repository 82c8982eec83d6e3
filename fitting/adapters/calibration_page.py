"""The calibration as the app shows it: experiments, gaps first; assumptions; limits."""

from dataclasses import dataclass

from fitting.adapters.model_limits import LIMITS, Limit
from fitting.calibration.stored import MOVED, Json, published, shown, stored

# Verdict of the calibration: level of the chip, its words, title of the group.
VERDICTS = {
    "does not fit": ("beyond", "Does not fit", "Not met: more than two spreads off"),
    "does not hold": ("beyond", "Does not hold", "Directions that do not hold"),
    "near": ("watch", "Off", "Not met: one to two spreads off"),
    "fits": ("plain", "Fits", "Met within one spread"),
    "holds": ("plain", "Holds", "Directions that hold"),
}
USES = {
    "fitted": "Used in the fit.",
    "checked": "Held against the fit, not used in it.",
    "direction": "A direction; the paper gives no size for it.",
}


@dataclass(frozen=True)
class ExperimentRow:
    """One published number beside ours."""

    id: str
    title: str
    level: str
    words: str
    published: str
    ours: str
    off: str
    counted: str
    source: str
    status: str
    note: str
    use: str


@dataclass(frozen=True)
class AssumptionRow:
    """One assumption: believed, fitted, and the range the experiments leave."""

    title: str
    believed: str
    fitted: str
    range: str
    told: str
    source: str


@dataclass(frozen=True)
class CalibrationPage:
    """Everything the page shows."""

    groups: tuple[tuple[str, tuple[ExperimentRow, ...]], ...]
    assumptions: tuple[AssumptionRow, ...]
    elsewhere_titles: tuple[str, ...]
    elsewhere: tuple[tuple[str, tuple[str, ...]], ...]
    limits: tuple[Limit, ...]
    squares: dict[str, float]


def calibration_page() -> CalibrationPage:
    """Return the committed calibration, gaps first."""
    data = stored()
    rows = [(_experiment(row), row["verdict"]) for row in data["experiments"]]
    groups = [
        (title, tuple(row for row, verdict in rows if verdict == name))
        for name, (_, _, title) in VERDICTS.items()
    ]
    return CalibrationPage(
        groups=tuple(group for group in groups if group[1]),
        assumptions=tuple(_assumption(row) for row in data["parameters"]),
        elsewhere_titles=tuple(title.capitalize() for title, _ in MOVED.values()),
        elsewhere=tuple(
            (row["words"], tuple(shown(row[name], unit) for name, (_, unit) in MOVED.items()))
            for row in data["elsewhere"]
        ),
        limits=LIMITS,
        squares=data["squares"],
    )


def _experiment(row: Json) -> ExperimentRow:
    level, words, _ = VERDICTS[row["verdict"]]
    off = row["off"]
    return ExperimentRow(
        id=row["id"],
        title=row["title"],
        level=level,
        words=words,
        published=published(row),
        ours=shown(row["ours"], row["unit"]),
        off="" if off is None else f"{abs(off):.1f} spreads {'above' if off > 0 else 'below'}",
        counted=shown(row["counted"], row["unit"]),
        source=row["citation"],
        status=row["status"],
        note=row["note"],
        use=USES[row["role"]],
    )


def _assumption(row: Json) -> AssumptionRow:
    share = row["range_over_believed"]
    told = "narrowed" if share < 0.75 else "narrowed a little" if share < 0.9 else "hardly told"
    return AssumptionRow(
        title=row["title"],
        believed=shown(row["value"], row["unit"]),
        fitted=shown(row["fitted"], row["unit"]),
        range=f"{shown(row['low'], row['unit'])} to {shown(row['high'], row['unit'])}",
        told=f"{told}, {100 * share:.0f} % of the believed range",
        source=row["source"],
    )
