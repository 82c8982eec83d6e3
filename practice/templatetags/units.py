"""How numbers with units are shown, once."""

from datetime import datetime

from django import template
from django.utils import dateformat

from horses import units

register = template.Library()
NOTHING = "–"


@register.simple_tag(takes_context=True)
def length(context: template.Context, value_mm: float | None) -> str:
    """Show a length in the practice's units: inches to 1/8, or centimetres."""
    if value_mm is None:
        return NOTHING
    return units.show_length(value_mm, imperial=bool(context.get("imperial", True)))


@register.simple_tag(takes_context=True)
def mass(context: template.Context, value_kg: float | None) -> str:
    """Show a weight in the practice's units."""
    if value_kg is None:
        return NOTHING
    return units.show_mass(value_kg, imperial=bool(context.get("imperial", True)))


@register.filter
def mm(value_mm: float | None) -> str:
    return NOTHING if value_mm is None else f"{value_mm:.0f} mm"


@register.filter
def degrees(value_deg: float | None) -> str:
    return NOTHING if value_deg is None else f"{value_deg:.1f}°"


@register.filter
def hands(value_mm: float | None) -> str:
    return NOTHING if value_mm is None else units.show_hands(value_mm)


@register.filter
def percent(share: float | None) -> str:
    return NOTHING if share is None else f"{100 * share:.0f} %"


@register.filter
def there(moment: datetime, how: str) -> str:
    """Show a visit's time on the clock it carries; `date` would turn it to the practice's."""
    return dateformat.format(moment, how)


@register.filter
def zone(name: str) -> str:
    """Show a time zone's name as words: America/New York."""
    return name.replace("_", " ")
