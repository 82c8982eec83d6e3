"""A last look before a report leaves the practice: private words someone typed into free text."""

import re
from collections.abc import Iterator, Mapping
from typing import Any

from horses.units import KG_PER_POUND
from practice.selectors.reports import ReportRecords

SHORTEST = 5  # a shorter line, such as a house number alone, is found by chance


def private_words(content: Mapping[str, Any], records: ReportRecords) -> list[str]:
    """Return what of a report's words is an address, a way to reach someone or a rider's weight."""
    said = "\n".join(_strings({k: v for k, v in content.items() if k != "practice_phone"}))
    found = [f"{what}: “{words}”" for what, words in _secrets(records) if _says(said, words)]
    return list(dict.fromkeys(found))


def _says(said: str, words: str) -> bool:
    """Return whether words stand in a text, however spaced; "80 kg" is not in "480 kg"."""
    pattern = r"\s*".join(re.escape(word) for word in words.split())
    return re.search(rf"(?<!\w)(?<!\d[.,]){pattern}(?!\w)", said, re.IGNORECASE) is not None


def _strings(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from _strings(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _strings(item)


def _secrets(records: ReportRecords) -> Iterator[tuple[str, str]]:
    visit = records.visit_horse.visit
    client, place = visit.client, visit.place
    if place is not None:
        yield "the place", place.name
        yield from _lines("the place's address", place.address)
    yield from _lines("the client's address", client.address)
    for what, words in (("telephone number", client.phone), ("e-mail address", client.email)):
        if words:
            yield f"the client's {what}", words
    for item in records.pairings:
        rider = item.pairing.rider
        if rider is not None and rider.mass_kg is not None:
            pounds, kilos = rider.mass_kg / KG_PER_POUND, rider.mass_kg
            stone, rest = divmod(round(pounds), 14)
            spoken = (f"{pounds:.0f} lb", f"{pounds:.0f} lbs", f"{pounds:.0f} pounds")
            for weight in (*spoken, f"{kilos:.0f} kg", f"{stone} st {rest}"):
                yield "the rider's weight", weight


def _lines(what: str, address: str) -> Iterator[tuple[str, str]]:
    for line in address.splitlines():
        if len(line.strip()) >= SHORTEST:
            yield what, line.strip()
