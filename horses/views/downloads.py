"""The numbers of a page as a file for a spreadsheet."""

import csv
from collections.abc import Iterable, Sequence

from django.http import HttpResponse

FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r")


def csv_file(name: str, head: Sequence[str], rows: Iterable[Sequence[object]]) -> HttpResponse:
    """Return a CSV file; text a spreadsheet would take for a formula is marked as text."""
    answer = HttpResponse(content_type="text/csv; charset=utf-8")
    answer["Content-Disposition"] = f'attachment; filename="{name}.csv"'
    answer.write("\ufeff")  # without it spreadsheets misread the letters beyond ASCII
    writer = csv.writer(answer)
    writer.writerow(head)
    writer.writerows([_cell(value) for value in row] for row in rows)
    return answer


def _cell(value: object) -> object:
    if value is None:
        return ""
    is_risky = isinstance(value, str) and value.startswith(FORMULA_STARTS) and not _is_number(value)
    return f"'{value}" if is_risky else value


def _is_number(text: str) -> bool:
    try:
        float(text)
    except ValueError:
        return False
    return True
