"""Form fields for measured values: they read units, keep what was typed, block and ask.

A value outside the hard limits is an error that says why. A value outside the usual range is
an error too, unless the form was sent with the box `sure` ticked for that field.
"""

from collections.abc import Callable
from typing import Any, cast

from django import forms
from django.core.exceptions import ValidationError
from django.http import QueryDict

from horses import units


class QuantityField(forms.CharField):
    """Text with a number and perhaps a unit, cleaned to a canonical float (see subclasses)."""

    def __init__(
        self,
        *,
        hard: tuple[float, float] | None = None,
        usual: tuple[float, float] | None = None,
        show: Callable[[float], str] = str,
        **kwargs: Any,
    ) -> None:
        self.hard, self.usual, self.show = hard, usual, show
        kwargs.setdefault("required", False)
        kwargs.setdefault("max_length", 40)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("inputmode", "text")
        self.widget.attrs.setdefault("autocomplete", "off")
        self.widget.attrs.setdefault("class", "figure")

    def read(self, text: str) -> float:
        raise NotImplementedError

    def clean(self, value: Any) -> float | None:
        text = super().clean(value).strip()
        if not text:
            return None
        try:
            number = self.read(text)
        except units.CannotRead as problem:
            raise ValidationError(str(problem), code="cannot_read") from problem
        self._check_hard(number, text)
        return number

    def _check_hard(self, number: float, text: str) -> None:
        if self.hard and not self.hard[0] - 1e-6 <= number <= self.hard[1] + 1e-6:
            low, high = (self.show(limit) for limit in self.hard)
            raise ValidationError(
                f"{text} cannot be right: this lies between {low} and {high}. Check the unit.",
                code="out_of_range",
            )

    def unusual(self, number: float | None) -> str | None:
        """Return the question to ask about a value outside the usual range, or None."""
        if number is None or self.usual is None:
            return None
        if self.usual[0] - 1e-6 <= number <= self.usual[1] + 1e-6:
            return None
        low, high = (self.show(limit) for limit in self.usual)
        return f"Read as {self.show(number)}. Unusual: most are {low} to {high}. Is this right?"


class LengthField(QuantityField):
    """A length in mm. A bare number is taken in `default_unit`."""

    def __init__(self, *, default_unit: str = "in", **kwargs: Any) -> None:
        self.default_unit = default_unit
        kwargs.setdefault(
            "show",
            lambda mm: units.show_length(
                mm,
                imperial=self.default_unit in {"in", "ft"},
                small=self.default_unit == "mm",
            ),
        )
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("data-unit", default_unit)

    def use_unit(self, unit: str) -> None:
        """Take bare numbers in another unit from now on."""
        self.default_unit = self.widget.attrs["data-unit"] = unit

    def read(self, text: str) -> float:
        return units.read_length_mm(text, default_unit=self.default_unit)


class MassField(QuantityField):
    """A mass in kg. A bare number is taken in `default_unit`."""

    def __init__(self, *, default_unit: str = "lb", **kwargs: Any) -> None:
        self.default_unit = default_unit
        kwargs.setdefault(
            "show", lambda kg: units.show_mass(kg, imperial=self.default_unit != "kg")
        )
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("data-unit", default_unit)

    def use_unit(self, unit: str) -> None:
        """Take bare numbers in another unit from now on."""
        self.default_unit = self.widget.attrs["data-unit"] = unit

    def read(self, text: str) -> float:
        return units.read_mass_kg(text, default_unit=self.default_unit)


class HeightField(QuantityField):
    """A horse's height in mm, typed in hands (15.2), inches or centimetres."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("hard", (610, 2134))
        kwargs.setdefault("usual", (1321, 1778))
        kwargs.setdefault("show", units.show_hands)
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("data-unit", "hh")

    def read(self, text: str) -> float:
        return units.read_hands_mm(text)


class AngleField(QuantityField):
    """An angle in degrees."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("show", lambda degrees: f"{degrees:g}°")
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("data-unit", "°")

    def read(self, text: str) -> float:
        return units.read_degrees(text)


class TemperatureField(QuantityField):
    """A temperature in degrees Celsius."""

    def __init__(self, *, default_unit: str = "C", **kwargs: Any) -> None:
        self.default_unit = default_unit
        kwargs.setdefault("show", lambda celsius: f"{celsius:.0f} C ({celsius * 1.8 + 32:.0f} F)")
        kwargs.setdefault("help_text", "Fahrenheit with an F: 64 F.")
        super().__init__(**kwargs)
        self.widget.attrs.setdefault("data-unit", default_unit)

    def read(self, text: str) -> float:
        return units.read_celsius(text, default_unit=self.default_unit)


class NumberField(QuantityField):
    """A plain number, fractions allowed."""

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("show", lambda number: f"{number:g}")
        super().__init__(**kwargs)

    def read(self, text: str) -> float:
        return units.read_number(text)


class TypedForm(forms.Form):
    """A form that keeps what was typed, and asks once about unusual values.

    After cleaning, `typed` maps each quantity field to its text. Fields whose unusual value the
    person has not confirmed are in `questions`. The hidden field `sure` carries the confirmed
    ones as lines of `name=text`, so a changed value is asked about again; without JavaScript the
    box `confirm` does the same for the values sent with it.
    """

    sure = forms.CharField(required=False, widget=forms.HiddenInput)

    def full_clean(self) -> None:
        if self.is_bound:
            self._keep_confirmed()
        super().full_clean()

    def _keep_confirmed(self) -> None:
        """Add the fields ticked in `confirm` to `sure`, so that the page shown next keeps them."""
        ticked = self.data.getlist("confirm") if hasattr(self.data, "getlist") else []
        names = [n for n in self.fields if self.add_prefix(n) in ticked]
        if not names:
            return
        lines = [*self._sure_lines(), *(f"{name}={self._text_of(name)}" for name in names)]
        data = cast(QueryDict, self.data).copy()
        data[self.add_prefix("sure")] = "\n".join(lines)
        self.data = data

    def _sure_lines(self) -> list[str]:
        # Browsers send line ends as CR LF whatever the page put there.
        return str(self.data.get(self.add_prefix("sure"), "")).splitlines()

    @property
    def typed(self) -> dict[str, str]:
        return {
            name: text
            for name, field in self.fields.items()
            if isinstance(field, QuantityField) and (text := self._text_of(name))
        }

    def _text_of(self, name: str) -> str:
        return str(self.data.get(self.add_prefix(name), "")).strip()

    def questions_about(self, cleaned: dict[str, Any]) -> dict[str, str]:
        """Return the questions to ask, by field; extend it for rules between fields."""
        return {
            name: question
            for name, field in self.fields.items()
            if isinstance(field, QuantityField) and (question := field.unusual(cleaned.get(name)))
        }

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        confirmed = set(self._sure_lines())
        self.questions = {
            name: question
            for name, question in self.questions_about(cleaned).items()
            if f"{name}={self._text_of(name)}" not in confirmed
        }
        for name, question in self.questions.items():
            self.add_error(name, ValidationError(question, code="unusual"))
        return cleaned
