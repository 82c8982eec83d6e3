"""Fields for measured values: hard limits block with the reason, unusual values ask once."""

from django.http import QueryDict

from horses.forms.fields import HeightField, LengthField, MassField, TypedForm


class BackForm(TypedForm):
    girth_mm = LengthField(label="Girth", hard=(762, 2794), usual=(1524, 2134))
    height_mm = HeightField()
    gear_kg = MassField(hard=(0, 113))


def sent(**values: str | list[str]) -> BackForm:
    data = QueryDict(mutable=True)
    for name, value in values.items():
        data.setlist(name, value if isinstance(value, list) else [value])
    return BackForm(data)


def test_typed_text_is_kept_beside_the_value() -> None:
    form = sent(girth_mm=" 73 1/2 ", height_mm="15.2")
    assert form.is_valid()
    assert form.cleaned_data["girth_mm"] == 73.5 * 25.4
    assert form.typed == {"girth_mm": "73 1/2", "height_mm": "15.2"}


def test_an_empty_field_is_none_and_never_zero() -> None:
    form = sent(girth_mm="")
    assert form.is_valid()
    assert form.cleaned_data["girth_mm"] is None


def test_centimetres_typed_as_inches_are_blocked_with_the_limits() -> None:
    form = sent(girth_mm="185")
    assert form.errors["girth_mm"] == [
        "185 cannot be right: this lies between 30 in and 110 in. Check the unit."
    ]
    assert form["girth_mm"].value() == "185"


def test_a_wrong_hand_is_explained_at_the_field() -> None:
    assert "15.4 is 16.0" in sent(height_mm="15.4").errors["height_mm"][0]


def test_an_unusual_value_is_asked_about_and_then_taken() -> None:
    form = sent(girth_mm="58")
    assert "Unusual: most are 60 in to 84 in" in form.errors["girth_mm"][0]
    assert sent(girth_mm="58", sure="girth_mm=58").is_valid()


def test_a_changed_value_is_asked_about_again() -> None:
    assert not sent(girth_mm="57", sure="girth_mm=58").is_valid()


def test_two_answers_survive_the_line_ends_a_browser_sends() -> None:
    form = sent(girth_mm="58", height_mm="12.2", sure="girth_mm=58\r\nheight_mm=12.2")
    assert form.is_valid()


def test_the_box_without_javascript_confirms_and_is_remembered() -> None:
    form = sent(girth_mm="58", height_mm="12.2", confirm=["girth_mm"])
    assert not form.is_valid()
    assert list(form.errors) == ["height_mm"]
    assert form["sure"].value() == "girth_mm=58"


def test_a_confirmation_does_not_lift_a_hard_limit() -> None:
    assert not sent(girth_mm="185", sure="girth_mm=185").is_valid()
