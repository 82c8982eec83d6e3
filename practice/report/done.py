"""What was done on the visit, as short lines drawn from what was recorded."""

from fitting.models import HandCheck
from practice.selectors.reports import PairingRecords, ReportRecords

TESTED = frozenset({HandCheck.Outcome.GOOD, HandCheck.Outcome.WATCH, HandCheck.Outcome.BAD})
SAFETY_WORDS = {
    "safe": "it is safe to ride in",
    "repair": "it is safe, with a repair to be made",
    "unsafe": "it is not safe to ride in",
}
SHIMS = {
    "front_left": "front left",
    "front_right": "front right",
    "rear_left": "rear left",
    "rear_right": "rear right",
}


def what_we_did(records: ReportRecords) -> tuple[str, ...]:
    """Return the changes made first, then what was felt, measured and checked."""
    lines: list[str] = []
    for pairing in records.pairings:
        lines += _changes(pairing)
    return tuple(dict.fromkeys([*lines, *_back_lines(records), *_saddle_lines(records)]))


def _changes(records: PairingRecords) -> list[str]:
    verdict, pairing = records.verdict, records.pairing
    typed = verdict.changes.splitlines() if verdict else []
    lines = [line.strip() for line in typed if line.strip()]
    shims = [
        f"{getattr(pairing, f'shim_{corner}_mm'):.0f} mm {words}"
        for corner, words in SHIMS.items()
        if getattr(pairing, f"shim_{corner}_mm") > 0
    ]
    if shims:
        until = pairing.shims_until
        by = f", to be looked at by {until.day} {until:%B %Y}" if until else ""
        lines.append(
            f"Shims (thin pieces of felt) under {pairing.saddle.tag}: {', '.join(shims)}{by}."
        )
    return lines


def _back_lines(records: ReportRecords) -> list[str]:
    lines = []
    if records.check is not None:
        felt = sum(row.score is not None for row in records.check.scores.all())
        lines.append(f"Felt the back with the hand at {felt} places.")
    if records.measurement is not None:
        stations = {section.station for section in records.measurement.sections.all()}
        if stations:
            lines.append(f"Measured the shape of the back at {len(stations)} places.")
    return lines


def _saddle_lines(records: ReportRecords) -> list[str]:
    lines = []
    for item in records.pairings:
        tag = item.pairing.saddle.tag
        if item.safety is not None and item.safety.result:
            lines.append(f"Turned {tag} over and tested it: {SAFETY_WORDS[item.safety.result]}.")
        tried = [check for check in item.hand_checks if check.outcome in TESTED]
        ridden = [check for check in tried if check.phase == HandCheck.Phase.RIDDEN]
        if tried:
            also = f", {len(ridden)} of them ridden" if ridden else ""
            lines.append(f"Checked {tag} on the horse in {len(tried)} ways{also}.")
        if item.evaluation is not None:
            lines.append(f"Compared the shape of {tag} with the back by computer.")
    return lines
