"""What the report's template needs: the stored content and its drawings."""

from collections.abc import Mapping
from typing import Any

from practice.report import pictures


def page_of(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return the template context of a report, alike for a preview and for what was shared."""
    back = content["back"]
    return {
        "report": content,
        "map_scores": _map_scores(back["map"]) if back else None,
        "drawings": [_drawn(index, data) for index, data in enumerate(content["drawings"])],
        "trend": pictures.trend(content["trend"]) if content["trend"] else None,
    }


def _map_scores(stored: Mapping[str, int | None]) -> dict[tuple[str, str], int | None]:
    return {(key.split(".")[0], key.split(".")[1]): score for key, score in stored.items()}


def _drawn(index: int, data: Mapping[str, Any]) -> dict[str, Any]:
    views = [
        pictures.side_view(view, 2 * index + number)
        for number, view in enumerate(data["side_views"])
    ]
    return {
        "saddle": data["saddle"],
        "side_views": views,
        "side_words": data["side_words"],
        "outlines": [(o["title"], o["change"], pictures.outline(o)) for o in data["outlines"]],
        "outline_words": data["outline_words"],
        "rear": pictures.rear(data["rear"], index) if data["rear"] else None,
        "rear_words": data["rear_words"],
    }
