"""Small pieces every page uses."""

from typing import Any

from django import template
from django.forms import BoundField
from django.http import HttpRequest

register = template.Library()


@register.filter
def get(mapping: dict[Any, Any], key: Any) -> Any:
    """Look a key up in a dictionary, None when it is absent."""
    return mapping.get(key)


@register.simple_tag(takes_context=True)
def here(context: template.Context, *prefixes: str) -> str:
    """Mark a menu entry as the current page."""
    request: HttpRequest = context["request"]
    is_here = any(request.path == p if p == "/" else request.path.startswith(p) for p in prefixes)
    return 'aria-current="page"' if is_here else ""


@register.inclusion_tag("partials/field.html")
def field(bound: BoundField, hint: str = "", wide: bool = False) -> dict[str, Any]:
    """Show one form field with label, hint, error and, for an unusual value, the 'yes' box."""
    unusual = (
        any(error.code == "unusual" for error in bound.errors.as_data()) if bound.errors else False
    )
    return {"field": bound, "hint": hint or bound.help_text, "wide": wide, "unusual": unusual}
