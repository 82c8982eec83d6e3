"""Trees that bend and saddles without one: what is asked, what follows, what an evaluation says.

Beam on two supports with the load at its middle: E I = F L3 / (48 d); Roark, Formulas for Stress
and Strain, beam tables [memory]. The limits of the forms are common practice, no source.
"""

from collections.abc import Callable

import pytest
from django.test import Client
from django.urls import reverse

from fitting.adapters.errors import CannotEvaluate
from fitting.adapters.fit_inputs import gather_fit_inputs
from fitting.adapters.giving_trees import bending_stiffness
from fitting.engine import FlexibleTree, FramelessTree, from_dict, to_dict
from fitting.models import FitEvaluation, TreeSpec
from practice.models import User
from tests.factories import make_measurement, make_pairing, make_practice, make_saddle, make_tree
from tests.fitting.evaluated import evaluated

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db
# 10 kg at the middle of 400 mm: 98.0665 N x 0.064 m3 / (48 x 0.005 m) = 26.15 N m2 for 5 mm.
TEST = {"flex_span_mm": 400.0, "flex_load_kg": 10.0, "flex_left_mm": 5.0, "flex_right_mm": 4.0}
BODY = {
    "kind": "frameless",
    "body_length_mm": 500.0,
    "body_width_mm": 200.0,
    "body_thickness_mm": 20.0,
    "body_channel_mm": 60.0,
}


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice()
    return signed_in(fitter)


def flexible(**values: object) -> TreeSpec:
    return make_tree(kind="flexible", **{**TEST, **values})


def fit_of(tree: TreeSpec, **values: object) -> FitEvaluation:
    return evaluated(saddle=make_saddle(tree=tree, **values))


def levels(fit: FitEvaluation) -> dict[str, str]:
    """Findings by code and side."""
    return {f"{f.code} {f.side}".strip(): f.level for f in from_dict(fit.result).findings}


def test_stiffness_follows_from_the_weight_hung_on_the_bar() -> None:
    tree = flexible()
    assert bending_stiffness(tree, "left") == pytest.approx(26.151, rel=1e-4)
    assert bending_stiffness(tree, "right") == pytest.approx(26.151 * 5 / 4, rel=1e-4)
    assert bending_stiffness(flexible(flex_load_kg=None), "left") is None


def test_form_takes_the_test_as_it_was_done(page: Client) -> None:
    sent = {
        "tag": "TR-60",
        "state": "measured",
        "flex_span_mm": "16 in",
        "flex_load_kg": "22 lb",
        "flex_left_mm": "5",
        "flex_right_mm": "4.5",
        "set_left_mm": "-1",
    }
    assert page.post(f"{reverse('tree_add')}?kind=flexible", sent).status_code == 302
    tree = TreeSpec.objects.get(tag="TR-60")
    assert (tree.kind, tree.set_left_mm, tree.set_right_mm) == ("flexible", -1.0, None)
    assert tree.flex_load_kg == pytest.approx(22 * 0.45359237)
    assert tree.flex_span_mm == pytest.approx(406.4)


@pytest.mark.parametrize(
    ("kind", "field", "text"),
    [
        ("flexible", "flex_load_kg", "150"),
        ("flexible", "flex_left_mm", "0"),
        ("flexible", "set_right_mm", "31"),
        ("frameless", "body_length_mm", "10 in"),
        ("frameless", "body_thickness_mm", "2"),
    ],
)
def test_what_cannot_be_is_refused_at_the_field_and_kept(
    page: Client, kind: str, field: str, text: str
) -> None:
    sent = {"tag": "TR-61", "state": "measured", field: text, "sure": f"{field}={text}"}
    response = page.post(f"{reverse('tree_add')}?kind={kind}", sent)
    assert field in response.context["form"].errors
    assert text in response.content.decode()
    assert not TreeSpec.objects.exists()


def test_a_bar_that_does_not_come_back_is_asked_about(page: Client) -> None:
    sent = {"tag": "TR-62", "state": "measured", "set_left_mm": "6"}
    response = page.post(f"{reverse('tree_add')}?kind=flexible", sent)
    assert "set_left_mm" in response.context["form"].questions
    sent["sure"] = "set_left_mm=6"
    assert page.post(f"{reverse('tree_add')}?kind=flexible", sent).status_code == 302


def test_both_kinds_have_their_pages(page: Client) -> None:
    for tree in (flexible(set_left_mm=1.0), make_tree(**BODY)):
        shown = page.get(reverse("tree_detail", args=[tree.pk])).content.decode()
        assert tree.get_kind_display() in shown
        assert page.get(reverse("tree_edit", args=[tree.pk])).status_code == 200
        assert tree.tag in page.get(reverse("tree_list")).content.decode()


def test_page_of_a_bending_tree_says_how_each_bar_bends(page: Client) -> None:
    tree = flexible(set_left_mm=1.0)
    response = page.get(reverse("tree_detail", args=[tree.pk]))
    assert "5.0 mm" in response.content.decode()  # tenths tell one bar from the other
    rows = dict(response.context["bending"])
    assert rows == {
        "Stiffness left": "26.2 N m²",
        "Stiffness right": "32.7 N m²",
        "Kept after flexing, left": "+1.0 mm",
    }
    stiff = make_tree()
    assert page.get(reverse("tree_detail", args=[stiff.pk])).context["bending"] == []


def test_inputs_hold_the_tree_that_bends() -> None:
    measurement = make_measurement()
    saddle = make_saddle(tree=flexible(set_right_mm=-3.0))
    gathered = gather_fit_inputs(make_pairing(measurement.horse, saddle=saddle), measurement)
    tree = gathered.inputs.tree
    assert isinstance(tree, FlexibleTree)
    assert tree.right.set_rock == pytest.approx(-0.003)
    assert tree.left.set_rock == 0.0  # not tested: said to be assumed
    assert tree.cantle_from_tip == pytest.approx(0.075 + 0.4064)
    assert any("left bar" in line.what for line in gathered.account.assumptions)
    assert to_dict(from_dict(to_dict(gathered.inputs))) == to_dict(gathered.inputs)


def test_bending_test_half_done_is_named_as_missing() -> None:
    measurement = make_measurement()
    saddle = make_saddle(tree=flexible(flex_right_mm=None))
    with pytest.raises(CannotEvaluate) as caught:
        gather_fit_inputs(make_pairing(measurement.horse, saddle=saddle), measurement)
    assert [m.what.split(" (")[0] for m in caught.value.missing] == ["Bending under it, right"]


def test_inputs_hold_the_saddle_without_a_tree() -> None:
    measurement = make_measurement()
    saddle = make_saddle(tree=make_tree(**BODY), stirrup_behind_tip_mm=None)
    gathered = gather_fit_inputs(make_pairing(measurement.horse, saddle=saddle), measurement)
    tree = gathered.inputs.tree
    assert isinstance(tree, FramelessTree)
    assert tree.seat_low == pytest.approx(0.25)
    assert any(line.what == "Low point of the seat" for line in gathered.account.assumptions)


def test_fit_of_a_tree_that_returns_unevenly_says_so(page: Client) -> None:
    even, uneven = fit_of(flexible(flex_right_mm=5.0)), fit_of(flexible(set_left_mm=6.0))
    assert levels(even)["set_difference"] == levels(even)["stiffness_ratio"] == "plain"
    assert levels(uneven)["set_difference"] == levels(uneven)["bar_set left"] == "beyond"
    assert levels(uneven)["bar_set right"] == "plain"
    shown = page.get(reverse("evaluation_detail", args=[uneven.pk])).content.decode()
    assert "return unevenly" in shown
    assert "Set of the left bar less the right one" in shown


def test_fit_of_a_saddle_without_a_tree_has_its_page(page: Client) -> None:
    fit = fit_of(make_tree(**BODY))
    shown = page.get(reverse("evaluation_detail", args=[fit.pk])).content.decode()
    assert "Highest pressure, middle third" in shown
    assert not {"rock left", "twist left", "angle_cranial left"} & set(levels(fit))
    assert "rock left" in levels(fit_of(flexible()))
