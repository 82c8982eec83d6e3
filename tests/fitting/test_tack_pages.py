"""Trees, saddles, pads and pairings: forms, rules between fields, pages, access.

Limits are common practice or from memory (no published source); the tests hold the rules, not the
limits' truth. Rigging: x = (1 - f) d with f the named fraction, common practice.
"""

from collections.abc import Callable
from datetime import date

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fitting.forms.dimensions import FLEXES, FRAMELESS, PANELLED, TWO_BAR
from fitting.models import Pad, Pairing, Saddle, TreeSpec
from fitting.selectors.tack import same_to_the_horse
from practice.models import User
from tests.factories import (
    make_client,
    make_horse,
    make_measurement,
    make_pad,
    make_pairing,
    make_practice,
    make_rider,
    make_saddle,
    make_tree,
)

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db
TREE = {"tag": "TR-50", "state": "measured"}


@pytest.fixture
def page(fitter: User, signed_in: SignIn) -> Client:
    make_practice()
    return signed_in(fitter)


def add_tree(page: Client, kind: str = "two_bar", **values: str) -> object:
    return page.post(f"{reverse('tree_add')}?kind={kind}", TREE | values)


def errors(response: object) -> dict[str, list[str]]:
    return response.context["form"].errors  # type: ignore[attr-defined,no-any-return]


# Trees ------------------------------------------------------------------------------------------


def test_each_kind_of_tree_asks_for_its_own_dimensions(page: Client) -> None:
    for kind, own, other in (("two_bar", TWO_BAR, PANELLED), ("panelled", PANELLED, TWO_BAR)):
        form = page.get(f"{reverse('tree_add')}?kind={kind}").context["form"]
        assert all(d.name in form.fields for d in own)
        assert not any(d.name in form.fields for d in other)


def test_every_dimension_of_the_model_is_asked_for_once() -> None:
    asked = [d.name for d in TWO_BAR + PANELLED + FLEXES + FRAMELESS]
    units = ("_mm", "_deg", "_kg")
    measured = {f.name for f in TreeSpec._meta.get_fields() if f.name.endswith(units)}
    assert sorted(asked) == sorted(measured)


def test_the_kind_is_chosen_first(page: Client) -> None:
    assert "What is under the saddle?" in page.get(reverse("tree_add")).content.decode()
    assert page.get(reverse("tree_add") + "?kind=balsa").status_code == 200


def test_a_tree_keeps_the_fractions_and_the_method(page: Client) -> None:
    add_tree(page, bar_length_mm="21 1/2", rock_mm="16", method_bar_length_mm="through the fleece")
    tree = TreeSpec.objects.get()
    assert tree.bar_length_mm == pytest.approx(546.1)
    assert tree.rock_mm == 16
    assert tree.typed == {"bar_length_mm": "21 1/2", "rock_mm": "16"}
    assert tree.methods == {"bar_length_mm": "through the fleece"}
    form = page.get(reverse("tree_edit", args=[tree.pk])).context["form"]
    assert form["bar_length_mm"].value() == "21 1/2"
    assert form["method_bar_length_mm"].value() == "through the fleece"


def test_included_angle_with_one_slope_gives_the_other(page: Client) -> None:
    add_tree(page, slope_front_left_deg="43.5", included_front_deg="92.5")
    tree = TreeSpec.objects.get()
    assert tree.slope_front_right_deg == pytest.approx(180 - 92.5 - 43.5)
    assert "included angle" in tree.methods["slope_front_right_deg"]
    assert "slope_front_left_deg" not in tree.methods


def test_included_angle_alone_is_split_and_says_so(page: Client) -> None:
    add_tree(page, included_front_deg="92")
    tree = TreeSpec.objects.get()
    assert (tree.slope_front_left_deg, tree.slope_front_right_deg) == (44, 44)
    assert "not measured apart" in tree.methods["slope_front_left_deg"]


def test_three_angles_that_disagree_are_refused(page: Client) -> None:
    sent = {"slope_front_left_deg": "44", "slope_front_right_deg": "44"}
    response = add_tree(page, **sent, included_front_deg="96")
    assert errors(response)["included_front_deg"] == ["Left and right give 92°, not 96°."]
    add_tree(page, **sent, included_front_deg="92.5")
    assert TreeSpec.objects.get().slope_front_left_deg == 44


def test_an_included_angle_that_leaves_an_impossible_side_is_refused(page: Client) -> None:
    response = add_tree(
        page, slope_front_left_deg="41", included_front_deg="130", sure=("included_front_deg=130")
    )
    assert "leaves 9°" in errors(response)["included_front_deg"][0]


def test_bearing_length_is_within_the_bar(page: Client) -> None:
    response = add_tree(
        page, bar_length_mm="21", bearing_length_mm="22", sure=("bearing_length_mm=22")
    )
    assert errors(response)["bearing_length_mm"] == [
        "Longer than the bar itself. Check both lengths."
    ]


def test_a_rear_steeper_than_the_front_is_asked_about(page: Client) -> None:
    sent = {
        "slope_front_left_deg": "42",
        "slope_front_right_deg": "42",
        "slope_rear_left_deg": "43",
        "slope_rear_right_deg": "30",
    }
    sure = "slope_rear_left_deg=43"
    asked = errors(add_tree(page, **sent))["slope_rear_left_deg"]
    assert asked == ["Read as 43°. Unusual: most are 20° to 37.5°. Is this right?"]
    assert add_tree(page, **sent, sure=sure).status_code == 302  # type: ignore[attr-defined]


def test_an_unusual_twist_is_asked_about_when_each_slope_is_usual(page: Client) -> None:
    sent = {"slope_front_left_deg": "41", "slope_rear_left_deg": "36"}
    asked = errors(add_tree(page, **sent))["slope_rear_left_deg"][0]
    assert asked == "The twist is 5°; most are 8 to 24°. Is this right?"


def test_panels_take_centimetres_and_ask_when_the_rear_is_narrower(page: Client) -> None:
    sent = {"panel_length_mm": "46", "head_angle_deg": "108", "rear_angle_deg": "106"}
    response = add_tree(page, "panelled", **sent)
    assert "Narrower than the head" in errors(response)["rear_angle_deg"][0]
    add_tree(page, "panelled", **sent, sure="rear_angle_deg=106")
    tree = TreeSpec.objects.get()
    assert (tree.kind, tree.panel_length_mm) == ("panelled", 460)


@pytest.mark.parametrize(
    ("field", "text"),
    [
        ("bar_length_mm", "53"),
        ("rock_mm", "80"),
        ("slope_front_left_deg", "85"),
        ("bar_width_front_mm", "wide"),
        ("crown_mm", "30 mm"),
    ],
)
def test_impossible_dimensions_are_blocked_and_kept(page: Client, field: str, text: str) -> None:
    response = add_tree(page, **{field: text, "sure": f"{field}={text}"})
    assert field in errors(response)
    assert response.context["form"][field].value() == text  # type: ignore[attr-defined]
    assert not TreeSpec.objects.exists()


def test_a_tag_is_used_once(page: Client) -> None:
    make_tree(tag="TR-50")
    assert errors(add_tree(page))["tag"]


def test_a_trees_page_shows_what_follows_from_it(page: Client) -> None:
    tree = make_tree()
    derived = dict(page.get(reverse("tree_detail", args=[tree.pk])).context["derived"])
    assert derived == {
        "Front included": 92.5,
        "Rear included": 121.5,
        "Twist left": 14.25,
        "Twist right": 14.75,
    }


# Saddles and pads -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fraction", "inches"), [("1", 0), ("0.875", 2), ("0.75", 4), ("0.625", 6), ("0.5", 8)]
)
def test_rigging_lies_behind_the_fork_by_its_fraction(fraction: str, inches: float) -> None:
    saddle = Saddle(rigging=fraction, fork_to_cantle_mm=16 * 25.4)
    assert saddle.rigging_behind_fork_mm == pytest.approx(inches * 25.4)


def test_saddles_with_the_same_key_are_the_same_to_the_horse(page: Client) -> None:
    tree = make_tree()
    one = make_saddle(tag="SD-07", tree=tree)
    twin = make_saddle(tag="SD-08", tree=tree, stirrup_behind_tip_mm=204, kind="trail")
    make_saddle(tree=tree, rigging="1")
    make_saddle(tree=tree, stirrup_behind_tip_mm=230)
    make_saddle()
    assert list(same_to_the_horse(one)) == [twin]
    text = page.get(reverse("saddle_detail", args=[one.pk])).content.decode()
    assert "To the horse this is the same as" in text


def test_a_saddle_without_a_tree_is_like_no_other() -> None:
    one, _ = make_saddle(), make_saddle()
    Saddle.objects.update(tree=None)
    one.refresh_from_db()
    assert not same_to_the_horse(one).exists()


def test_what_is_usual_depends_on_the_kind(page: Client) -> None:
    url = reverse("saddle_add")
    sent = {"tag": "SD-50", "kind": "dressage", "mass_kg": "38 lb"}
    assert "10 lb to 20 lb" in errors(page.post(url, sent))["mass_kg"][0]
    assert page.post(url, sent | {"kind": "ranch"}).status_code == 302
    assert Saddle.objects.get().mass_kg == pytest.approx(17.237, abs=0.001)


def test_a_pad_thicker_than_new_is_asked_about(page: Client) -> None:
    sent = {"name": "Felt", "material": "felt", "thickness_new_mm": "19", "thickness_mm": "3/4 in"}
    assert (
        "Thicker than when it was new"
        in errors(page.post(reverse("pad_add"), sent))["thickness_mm"][0]
    )
    assert page.post(reverse("pad_add"), sent | {"thickness_mm": "17"}).status_code == 302
    assert Pad.objects.get().typed == {"thickness_new_mm": "19", "thickness_mm": "17"}


@pytest.mark.parametrize("name", ["saddle_list", "tree_list", "pad_list"])
def test_lists_ask_the_database_the_same_however_long(page: Client, name: str) -> None:
    counts = set()
    for _ in range(2):
        for _ in range(4):
            make_pairing(saddle=make_saddle(owner=make_client()))
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse(name))
        counts.add(len(asked))
    assert len(counts) == 1


def test_a_saddles_page_asks_the_database_the_same_however_many_horses(page: Client) -> None:
    saddle = make_saddle()
    counts = set()
    for _ in range(2):
        for _ in range(4):
            make_pairing(saddle=saddle)
        with CaptureQueriesContext(connection) as asked:
            page.get(reverse("saddle_detail", args=[saddle.pk]))
        counts.add(len(asked))
    assert len(counts) == 1


# Pairings ---------------------------------------------------------------------------------------


def start(page: Client, **values: object) -> object:
    horse = values.pop("horse", None) or make_horse()
    sent = {"saddle": make_saddle().pk, "from_date": "2026-05-14"} | values
    return page.post(reverse("pairing_add", args=[horse.pk]), sent)  # type: ignore[attr-defined]


def test_a_pairing_starts_changes_and_ends(page: Client) -> None:
    start(page, use="ranch work", tip_behind_blade_mm="1")
    pairing = Pairing.objects.get()
    assert pairing.tip_behind_blade_mm == pytest.approx(25.4)
    assert pairing.shim_front_left_mm == 0
    sent = {"saddle": pairing.saddle_id, "from_date": "2026-05-14", "use": "trail"}
    page.post(reverse("pairing_edit", args=[pairing.pk]), sent)
    end = reverse("pairing_end", args=[pairing.pk])
    assert (
        "It began on 14 May 2026" in errors(page.post(end, {"to_date": "2026-05-01"}))["to_date"][0]
    )
    page.post(end, {"to_date": "2026-06-01"})
    pairing.refresh_from_db()
    assert (pairing.use, str(pairing.to_date)) == ("trail", "2026-06-01")


def test_shims_need_a_date_to_look_again(page: Client) -> None:
    assert "4 to 6 weeks" in errors(start(page, shim_front_left_mm="6"))["shims_until"][0]
    start(page, shim_front_left_mm="6", shims_until="2026-06-20")
    assert Pairing.objects.get().shim_front_left_mm == 6


def test_more_than_half_an_inch_of_shims_is_asked_about(page: Client) -> None:
    shims = {"shim_front_left_mm": "8", "shim_rear_left_mm": "6", "shims_until": "2026-06-20"}
    asked = errors(start(page, **shims))
    assert asked == {
        "shim_front_left_mm": [
            "14 mm of shims in all. Over 13 mm the tree itself is usually wrong. Is this right?"
        ]
    }
    start(page, **shims, sure="shim_front_left_mm=8")
    assert Pairing.objects.exists()
    assert "shim_front_left_mm" in errors(start(page, shim_front_left_mm="25"))


def test_a_load_over_a_fifth_is_said_and_over_three_tenths_needs_a_reason(page: Client) -> None:
    # 73 in girth and 66 in length are 1066 lb by the tape formula; 180 + 38 + 20 lb are 22.3 %.
    horse = make_horse()
    make_measurement(horse)
    saddle, rider = make_saddle(mass_kg=17.237).pk, make_rider(mass_kg=81.647)
    sent = {"horse": horse, "saddle": saddle, "rider": rider.pk, "gear_mass_kg": "20 lb"}
    assert start(page, **sent).status_code == 302  # type: ignore[attr-defined]
    said = page.get(reverse("saddle_list")).content.decode()
    assert "Rider, saddle and gear are 22 % of the horse" in said
    heavy = sent | {"rider": make_rider(mass_kg=140).pk}
    assert "over 30 %" in errors(start(page, **heavy))["notes"][0]
    assert start(page, **heavy, notes="walk only").status_code == 302  # type: ignore[attr-defined]
    beyond = sent | {"rider": make_rider(mass_kg=181).pk, "notes": "walk only"}
    assert "Check the weights" in errors(start(page, **beyond))["rider"][0]


def test_a_horse_too_young_to_ride_is_stopped_and_a_young_one_asked_about(page: Client) -> None:
    foal = make_horse(birth_date=date(2025, 5, 1))
    assert "too young to be ridden" in errors(start(page, horse=foal))["from_date"][0]
    young = make_horse(birth_date=date(2024, 5, 1))
    assert "only 2.0 years old" in errors(start(page, horse=young))["from_date"][0]
    assert start(page, horse=young, sure="from_date=2026-05-14").status_code == 302  # type: ignore[attr-defined]


def test_a_saddle_added_for_a_horse_leads_back_to_the_pairing(page: Client) -> None:
    horse = make_horse()
    url = f"{reverse('saddle_add')}?horse={horse.pk}&from=2026-05-02&next=/visits/3/"
    pairing = page.post(url, {"tag": "SD-50", "kind": "ranch"}, follow=True)
    form = pairing.context["form"]
    assert pairing.context["horse"] == horse
    assert form["saddle"].value() == str(Saddle.objects.get().pk)
    assert form["from_date"].value() == "2026-05-02"
    assert pairing.context["back"] == "/visits/3/"


def test_a_way_back_to_another_site_is_not_taken(page: Client) -> None:
    url = reverse("pairing_add", args=[make_horse().pk])
    for elsewhere in ("https://elsewhere.example/", "//elsewhere.example/", "javascript:alert(1)"):
        assert page.get(url, {"next": elsewhere}).context["back"].startswith("/horses/")


def test_shims_shown_again_are_empty_where_there_is_none(page: Client) -> None:
    pairing = make_pairing(shim_front_left_mm=6)
    form = page.get(reverse("pairing_edit", args=[pairing.pk])).context["form"]
    assert form["shim_front_left_mm"].value() == "6 mm"
    assert form["shim_rear_left_mm"].value() == ""


def test_the_load_is_silent_when_a_weight_is_missing(page: Client) -> None:
    rider = make_rider(mass_kg=181)
    assert start(page, rider=rider.pk).status_code == 302  # type: ignore[attr-defined]


def test_retired_tack_is_offered_only_where_it_is_used(page: Client) -> None:
    old = make_pairing(saddle=make_saddle(is_retired=True), pad=make_pad(is_retired=True))
    new = page.get(reverse("pairing_add", args=[old.horse_id])).context["form"]
    assert old.saddle not in new.fields["saddle"].queryset
    same = page.get(reverse("pairing_edit", args=[old.pk])).context["form"]
    assert old.saddle in same.fields["saddle"].queryset


@pytest.mark.parametrize("name", ["saddle_list", "tree_list", "pad_list", "saddle_add"])
def test_a_stranger_finds_no_tack(stranger: User, signed_in: SignIn, name: str) -> None:
    assert signed_in(stranger).get(reverse(name)).status_code == 404


def test_a_reader_changes_no_tack(reader: User, signed_in: SignIn) -> None:
    page = signed_in(reader)
    assert page.get(reverse("saddle_list")).status_code == 200
    assert page.post(reverse("saddle_add"), {}).status_code == 403
