"""The body map: every site on its own side, and readable without colour."""

import pytest
from django.template import Context, Template

from horses.charts.body_map import CENTRE, LOOKS, PLACES, body_marks
from horses.models import Site, sides_of


def test_every_site_has_its_place_and_sides() -> None:
    marks = {(mark.site, mark.side) for mark in body_marks({})}
    assert marks == {(site, side) for site in Site.values for side in sides_of(site)}


def test_the_horses_left_is_on_the_left_of_the_page() -> None:
    """Seen from above with the head at the top; a mirrored map must fail here."""
    for mark in body_marks({}):
        if mark.side == "L":
            assert mark.x < CENTRE
        elif mark.side == "R":
            assert mark.x > CENTRE
        else:
            assert mark.x == CENTRE


def test_front_sites_lie_above_rear_ones() -> None:
    order = ["PO", "WS", "BS", "UB", "MB", "RB", "LO", "CR"]
    heights = [PLACES[site][1] for site in order]
    assert heights == sorted(heights)


def test_not_tested_and_not_entered_and_zero_look_and_read_differently() -> None:
    scores = {("BS", "L"): 0, ("BS", "R"): None}
    marks = {(m.site, m.side): m for m in body_marks(scores)}
    zero, untested, unsaid = (marks[key] for key in (("BS", "L"), ("BS", "R"), ("LO", "L")))
    assert [m.text for m in (zero, untested, unsaid)] == ["0", "–", ""]
    assert len({m.look for m in (zero, untested, unsaid)}) == 3
    assert untested.words.endswith("not tested")
    assert unsaid.words.endswith("not entered")


def test_worse_scores_are_larger_so_that_colour_is_not_needed() -> None:
    radii = [LOOKS[score].radius for score in range(5)]
    assert radii == sorted(set(radii))


def test_marks_do_not_lie_on_each_other() -> None:
    marks = body_marks({})
    largest = LOOKS[4].radius
    for first in marks:
        for second in marks:
            apart = ((first.x - second.x) ** 2 + (first.y - second.y) ** 2) ** 0.5
            assert first is second or apart >= 2 * largest


@pytest.mark.parametrize("link", [True, False])
def test_the_partial_says_in_words_what_it_draws(link: bool) -> None:
    page = Template('{% include "partials/body_map.html" with scores=scores %}').render(
        Context({"scores": {("BS", "L"): 3}, "link": link})
    )
    assert "Behind the shoulder blade, left: 3" in page
    assert ("#site-BS-L" in page) is link
