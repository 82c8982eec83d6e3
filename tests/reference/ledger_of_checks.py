"""What the reference checks compared, kept and written to docs/verification.md.

`compare` and `small` of `cases` note every number they pass here. `RECORD_CHECKS=1 pytest
tests/reference` writes what was noted to `docs/verification.json` and the page; rows of tests that
no longer exist drop out. Without the variable nothing is written.
"""

from __future__ import annotations

import ast
import json
import os
import re
from dataclasses import asdict, dataclass
from pathlib import Path

from fitting.adapters.model_limits import LIMITS
from tests.reference.check_table import CHECKS, Check

HERE = Path(__file__).parent
DOCS = Path(__file__).parents[2] / "docs"
DATA, PAGE = DOCS / "verification.json", DOCS / "verification.md"
COMPARING = {"compare", "small"}


@dataclass(frozen=True)
class Row:
    """One number: relative error, or absolute where there is no size to relate it to."""

    test: str
    quantity: str
    ours: float
    reference: float
    error: float
    tolerance: float
    is_absolute: bool = False
    times: int = 1


NOTED: list[Row] = []


def note(
    quantity: str, ours: float, reference: float, tolerance: float, *, is_absolute: bool = False
) -> None:
    """Keep one comparison under the name of the test that is running."""
    test = os.environ.get("PYTEST_CURRENT_TEST", "").split(" ")[0].split("[")[0]
    size = 1.0 if is_absolute else abs(reference)
    error = abs(float(ours) - float(reference)) / size
    name = Path(test.split("::")[0]).name + "::" + test.split("::")[-1]
    NOTED.append(Row(name, quantity, float(ours), float(reference), error, tolerance, is_absolute))


def gathered(rows: list[Row]) -> list[Row]:
    """Return one row for each test, quantity and tolerance: the worst of them, and how many."""
    worst: dict[tuple[str, str, float], Row] = {}
    for row in rows:
        key = (row.test, row.quantity, row.tolerance)
        before = worst.get(key)
        times = (before.times if before else 0) + row.times
        kept = row if before is None or row.error > before.error else before
        worst[key] = Row(**(asdict(kept) | {"times": times}))
    return list(worst.values())


def comparing_tests() -> set[str]:
    """Return `file::test` of every test that compares, read from the sources."""
    found = set()
    for path in sorted(HERE.glob("test_*.py")):
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                calls = {
                    call.func.id
                    for call in ast.walk(node)
                    if isinstance(call, ast.Call) and isinstance(call.func, ast.Name)
                }
                if calls & COMPARING:
                    found.add(f"{path.name}::{node.name}")
    return found


def committed() -> list[Row]:
    """Return the committed rows."""
    if not DATA.exists():
        return []
    return [Row(**row) for row in json.loads(DATA.read_text(encoding="utf-8"))]


def write() -> None:
    """Write what was noted; rows of tests that did not run are kept if the tests still exist."""
    fresh, known = gathered(NOTED), comparing_tests()
    ran = {row.test for row in fresh}
    kept = [row for row in committed() if row.test not in ran and row.test in known]
    rows = [_short(row) for row in sorted(kept + fresh, key=_place)]
    lines = ",\n".join(json.dumps(asdict(row)) for row in rows)
    DATA.write_text(f"[\n{lines}\n]\n", encoding="utf-8")
    PAGE.write_text(page(rows), encoding="utf-8")


def _short(row: Row) -> Row:
    """Digits that say something, so that a new recording changes little."""
    digits = {name: float(f"{getattr(row, name):.8g}") for name in ("ours", "reference")}
    return Row(**(asdict(row) | digits | {"error": float(f"{row.error:.2g}")}))


def _place(row: Row) -> tuple[str, str, str, float]:
    return check_of(row.test).order, row.test, row.quantity, -row.tolerance


def check_of(test: str) -> Check:
    """Return the check a test belongs to: by the id in its name, else the file's own words."""
    file, name = test.split("::")
    ids = re.match(r"test_(c\d+[a-z]*)", name)
    if ids and ids[1].upper() in {key.upper() for key in CHECKS}:
        return next(check for key, check in CHECKS.items() if key.upper() == ids[1].upper())
    words = ast.get_docstring(ast.parse((HERE / file).read_text(encoding="utf-8"))) or file
    title, *rest = words.split("\n\n")
    return Check(
        id=file.removeprefix("test_").removesuffix(".py").replace("_", " "),
        title=title.strip().rstrip("."),
        formula="see the test",
        source=" ".join(" ".join(rest).split()).removeprefix("Sources: ").removeprefix("Source: "),
    )


def page(rows: list[Row]) -> str:
    """Return the page."""
    from_ids: dict[str, list[Row]] = {}
    checks: dict[str, Check] = {}
    for row in rows:
        check = check_of(row.test)
        checks[check.id] = check
        from_ids.setdefault(check.id, []).append(row)
    parts = [INTRO.format(checks=len(checks), numbers=sum(row.times for row in rows))]
    parts += [_section(checks[name], found) for name, found in from_ids.items()]
    return "\n".join([*parts, _limits()])


def _limits() -> str:
    lines = ["## What the model leaves out", ""]
    lines += [f"* **{limit.title}.** {limit.words} *Would help:* {limit.data}" for limit in LIMITS]
    return "\n".join(lines) + "\n"


def _section(check: Check, rows: list[Row]) -> str:
    lines = [
        f"## {check.id}: {check.title}",
        "",
        f"{check.formula}",
        "",
        f"Source: {check.source}",
        "",
    ]
    if check.picture:
        lines += [f"![{check.title}: load along the bar](verification/{check.picture}.svg)", ""]
    lines += [
        "| check | quantity | ours | reference | error | tolerance | compared |",
        "| --- | --- | --- | --- | --- | --- | --- |",
        *(_line(row) for row in rows),
        "",
    ]
    return "\n".join(lines)


def _line(row: Row) -> str:
    words = row.test.split("::")[1].removeprefix("test_").replace("_", " ")
    kind = "" if row.is_absolute else " of it"
    cells = (
        words,
        row.quantity,
        f"{row.ours:.7g}",
        f"{row.reference:.7g}",
        f"{row.error:.0e}",
        f"{row.tolerance:.0e}{kind}",
        str(row.times),
    )
    return "| " + " | ".join(cells) + " |"


INTRO = """# Verification

Generated by `RECORD_CHECKS=1 pytest tests/reference`; do not edit. {checks} checks, {numbers}
numbers compared with something outside the engine: closed forms, printed examples, general
libraries. Each check has a twin in the tests that must fail on a wrong answer. SI units. Where a
number was compared several times (grids, examples), the worst is shown. Words after a source say
how far it was seen: read, abstract, memory, derived here.

How the whole model stands against experiments on horses is another question: see
[calibration](calibration.md).
"""
