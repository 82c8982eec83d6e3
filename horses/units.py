"""Reading and showing measured values: what a person types becomes mm, kg, degrees or N.

Exact factors: 1 in = 25.4 mm and 1 lb = 0.45359237 kg (international yard and pound agreement,
1959); 1 stone = 14 lb; a hand is 4 in. "15.2" hands means 15 hands and 2 inches, 62 in.
"""

import re
from dataclasses import dataclass

MM_PER_INCH = 25.4
KG_PER_POUND = 0.45359237
NEWTONS_PER_POUND = 9.80665 * KG_PER_POUND  # standard gravity, CGPM 1901
POUNDS_PER_STONE = 14
INCHES_PER_HAND = 4
FINGER_MM = 19.0  # about 3/4 in; from memory, not verified

LENGTH_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "ft": 12 * MM_PER_INCH,
}
MASS_KG = {"kg": 1.0, "lb": KG_PER_POUND, "st": POUNDS_PER_STONE * KG_PER_POUND}
TEMPERATURE_UNITS = ("C", "F")

WORDS = {
    "mm": "mm",
    "cm": "cm",
    "m": "m",
    "in": "in",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "”": "in",
    "ft": "ft",
    "'": "ft",
    "kg": "kg",
    "kgs": "kg",
    "kilo": "kg",
    "kilos": "kg",
    "lb": "lb",
    "lbs": "lb",
    "pound": "lb",
    "pounds": "lb",
    "st": "st",
    "stone": "st",
    "stones": "st",
    "hh": "hh",
    "h": "hh",
    "hand": "hh",
    "hands": "hh",
    "deg": "deg",
    "degrees": "deg",
    "°": "deg",
    "c": "C",
    "°c": "C",
    "f": "F",
    "°f": "F",
}
VULGAR = {"¼": " 1/4", "½": " 1/2", "¾": " 3/4", "⅛": " 1/8", "⅜": " 3/8", "⅝": " 5/8", "⅞": " 7/8"}
NUMBER = re.compile(
    r"^(?P<sign>[-+−]?)\s*(?:(?P<whole>\d+(?:[.,]\d+)?))?"
    r"(?:(?:\s+|-|(?<=^))?(?P<num>\d+)\s*/\s*(?P<den>\d+))?$"
)
QUANTITY = re.compile(r"^(?P<number>[-+−\d.,/\s]*?)\s*(?P<unit>[A-Za-z\"”'°]*)\.?$")
HANDS = re.compile(r"^(?P<hands>\d{1,2})(?:[.\-](?P<inches>\d+))?(?:\s+(?P<num>\d)/(?P<den>\d+))?$")
COMPOUND = re.compile(
    r"^(?P<big>\d+)\s*(?P<big_unit>st|stone|ft|')\s*"
    r"(?P<small>\d+(?:[.,]\d+)?(?:\s+\d+/\d+)?)\s*(?P<small_unit>lb|lbs|in|\"|”)?$",
    re.IGNORECASE,
)


class CannotRead(ValueError):
    """The text is not a value of this kind; the message says what would be."""


@dataclass(frozen=True)
class Quantity:
    """A number with the unit it was typed in, or None when no unit was typed."""

    number: float
    unit: str | None


def _spread_out(text: str) -> str:
    for sign, plain in VULGAR.items():
        text = text.replace(sign, plain)
    return " ".join(text.split())


def read_number(text: str) -> float:
    """Read 6, 6.5, 6,5, 6 1/2, 6-1/2 or 1/2."""
    found = NUMBER.match(_spread_out(text))
    if not found or (found["whole"] is None and found["num"] is None):
        raise CannotRead(f"“{text}” is not a number. Write 6, 6.5 or 6 1/2.")
    value = float((found["whole"] or "0").replace(",", "."))
    if found["num"]:
        if int(found["den"]) == 0:
            raise CannotRead(f"“{text}” divides by zero.")
        value += int(found["num"]) / int(found["den"])
    return -value if found["sign"] in {"-", "−"} else value


def read_quantity(text: str) -> Quantity:
    """Split a typed value into its number and its unit word."""
    plain = _spread_out(text)
    found = QUANTITY.match(plain)
    if not found:
        raise CannotRead(f"“{text}” is not a number with a unit.")
    word = found["unit"].lower()
    if word and word not in WORDS:
        raise CannotRead(f"“{found['unit']}” is not a unit this field knows.")
    return Quantity(read_number(found["number"]), WORDS[word] if word else None)


def _read_compound(text: str, factors: dict[str, float]) -> float | None:
    """Read two-part values: 12 st 4 lb, or 5 ft 8 in."""
    found = COMPOUND.match(_spread_out(text))
    if not found:
        return None
    big = WORDS[found["big_unit"].lower()]
    small = "lb" if big == "st" else "in"
    typed_small = found["small_unit"]
    if big not in factors or (typed_small and WORDS[typed_small.lower()] != small):
        return None
    return int(found["big"]) * factors[big] + read_number(found["small"]) * factors[small]


def _read(text: str, factors: dict[str, float], default_unit: str, kind: str) -> float:
    compound = _read_compound(text, factors)
    if compound is not None:
        return compound
    quantity = read_quantity(text)
    unit = quantity.unit or default_unit
    if unit not in factors:
        raise CannotRead(f"“{unit}” is not a unit of {kind}. Use {', '.join(factors)}.")
    return quantity.number * factors[unit]


def read_length_mm(text: str, *, default_unit: str) -> float:
    """Return a length in mm; a bare number is taken in `default_unit`."""
    return _read(text, LENGTH_MM, default_unit, "length")


def read_mass_kg(text: str, *, default_unit: str) -> float:
    """Return a mass in kg; a bare number is taken in `default_unit`."""
    return _read(text, MASS_KG, default_unit, "weight")


def read_degrees(text: str) -> float:
    """Return an angle in degrees."""
    quantity = read_quantity(text)
    if quantity.unit not in {None, "deg"}:
        raise CannotRead("Angles are in degrees.")
    return quantity.number


def read_celsius(text: str, *, default_unit: str = "C") -> float:
    """Return a temperature in degrees Celsius."""
    quantity = read_quantity(text)
    unit = quantity.unit or default_unit
    if unit not in TEMPERATURE_UNITS:
        raise CannotRead("Temperatures are in C or F.")
    return quantity.number if unit == "C" else (quantity.number - 32) / 1.8


def read_hands_mm(text: str) -> float:
    """Return a horse's height in mm from hands (15.2), inches (62 in) or metric (157 cm, 1.57 m).

    After the dot only 0, 1, 2 or 3 inches can stand: four inches are the next hand.
    """
    plain = _spread_out(text).lower()
    for word in ("hands", "hand", "hh", "h"):
        if plain.endswith(word):
            plain = plain.removesuffix(word).strip()
            break
    else:
        quantity = read_quantity(text) if not HANDS.match(plain) else None
        if quantity and quantity.unit:
            return read_length_mm(text, default_unit="in")
    found = HANDS.match(plain)
    if not found:
        raise CannotRead(f"“{text}” is not a height. Write 15.2, 62 in or 157 cm.")
    inches = found["inches"] or "0"
    if inches not in {"0", "1", "2", "3"}:
        raise CannotRead(
            f"{text}: after the dot only 0, 1, 2 or 3 can stand. A hand is 4 in, so 15.4 is 16.0."
        )
    part = int(found["num"]) / int(found["den"]) if found["num"] else 0.0
    return (int(found["hands"]) * INCHES_PER_HAND + int(inches) + part) * MM_PER_INCH


def _fraction(value: float, parts: int) -> str:
    """Show a number to the nearest 1/parts as a fraction: 6 1/2, 3/4, 7."""
    sign = "-" if value < 0 else ""
    total = round(abs(value) * parts)
    whole, over = divmod(total, parts)
    if over == 0:
        return f"{sign}{whole}"
    down = parts
    while over % 2 == 0:
        over, down = over // 2, down // 2
    return f"{sign}{whole} {over}/{down}" if whole else f"{sign}{over}/{down}"


def show_hands(height_mm: float) -> str:
    """Show a height as hands: 1574.8 mm is 15.2 hh; to the nearest quarter inch."""
    quarters = round(height_mm / MM_PER_INCH * 4)
    hands, rest = divmod(quarters, INCHES_PER_HAND * 4)
    inches, part = divmod(rest, 4)
    tail = f" {_fraction(part / 4, 4)}" if part else ""
    return f"{hands}.{inches}{tail} hh"


def show_length(length_mm: float, *, imperial: bool, small: bool = False) -> str:
    """Show a length: inches to 1/8, or cm; `small` lengths (gaps, rock) are always mm."""
    if small:
        return f"{length_mm:.0f} mm"
    if imperial:
        return f"{_fraction(length_mm / MM_PER_INCH, 8)} in"
    return f"{length_mm / 10:.1f} cm"


def show_mass(mass_kg: float, *, imperial: bool) -> str:
    """Show a mass in whole pounds or kilograms."""
    return f"{mass_kg / KG_PER_POUND:.0f} lb" if imperial else f"{mass_kg:.0f} kg"


def show_force(newtons: float, *, imperial: bool) -> str:
    """Show a pull: pounds of force for those who think in them, beside newtons."""
    if imperial:
        return f"{newtons / NEWTONS_PER_POUND:.0f} lb ({newtons:.0f} N)"
    return f"{newtons:.0f} N"
