"""What the schema says about every address: how it fails."""

from typing import Any

PAIRED_SIDES = [("L", "Left"), ("R", "Right")]

FAILURES = {
    "400": "Some values cannot be taken; `fields` says which.",
    "401": "No sign-in, or a token that is not valid.",
    "403": "This account may read but not change records.",
    "404": "Not here, or not yours to see.",
    "415": "Send JSON.",
    "429": "Too many requests; wait as long as `Retry-After` says.",
}
ERROR = {"application/json": {"schema": {"$ref": "#/components/schemas/Error"}}}
ERROR_SCHEMA = {
    "type": "object",
    "description": "What comes back with every status of 400 and above.",
    "required": ["code", "message", "fields"],
    "properties": {
        "code": {"type": "string", "description": "A short word a program can test."},
        "message": {"type": "string", "description": "The same in words for a person."},
        "fields": {
            "type": "object",
            "description": "Messages by field path; 'whole' holds those of no single field.",
            "additionalProperties": {"type": "array", "items": {"type": "string"}},
        },
    },
}


def _statuses(method: str, operation: dict[str, Any]) -> set[str]:
    statuses = {"401", "404", "429"}
    if method in {"post", "patch"}:
        statuses |= {"400", "403", "415"}
    if any(parameter["in"] == "query" for parameter in operation.get("parameters", [])):
        statuses.add("400")
    return statuses


def document_failures(result: dict[str, Any], generator: Any, **kwargs: Any) -> dict[str, Any]:
    """Add our one error shape to every operation of the schema."""
    result["components"]["schemas"]["Error"] = ERROR_SCHEMA
    for operations in result["paths"].values():
        for method, operation in operations.items():
            for status in sorted(_statuses(method, operation)):
                answer = {"description": FAILURES[status], "content": ERROR}
                operation["responses"].setdefault(status, answer)
    return result
