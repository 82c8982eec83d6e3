"""Limits as data: where each level begins, what is read, and what may not be said."""

import math
import re

import pytest

from fitting.engine import RULES, Measure
from fitting.engine.findings import findings_of, level_of

RULE = {rule.code: rule for rule in RULES}

# Printed in Nyikos et al. 2005, Pferdeheilkunde 21:187-198 (abstract read): mean, then max, kPa.
PUBLISHED = {"cranial": (13.2, 34.5), "middle": (11.4, 30.3), "caudal": (10.0, 31.0)}


@pytest.mark.parametrize("zone", PUBLISHED)
def test_pressure_limits_are_the_published_ones(zone):
    mean, peak = PUBLISHED[zone]
    # The band of a quarter is ours: 2.6 on 10.8 kPa, Meschan et al. 2007, Vet J 173:578-584.
    assert RULE[f"mean_pressure_{zone}"].beyond[1] == pytest.approx(1.25 * mean * 1000)
    assert RULE[f"mean_pressure_{zone}"].plain[1] < mean * 1000
    assert RULE[f"peak_pressure_{zone}"].beyond[1] == pytest.approx(peak * 1000)


def test_ends_are_held_stricter_than_their_load_would_ask():
    # The loin tolerates least: caudal limit below the middle's, the middle's below the withers'.
    limits = [RULE[f"mean_pressure_{z}"].beyond[1] for z in ("caudal", "middle", "cranial")]
    assert limits == sorted(limits)


@pytest.mark.parametrize(
    ("code", "value", "level"),
    [
        ("bridging", 0.0050, "plain"),
        ("bridging", 0.0051, "watch"),
        ("bridging", 0.0080, "watch"),
        ("bridging", 0.0081, "beyond"),
        ("ahead_of_last_rib", 0.0, "plain"),
        ("ahead_of_last_rib", -0.010, "watch"),
        ("ahead_of_last_rib", -0.020, "beyond"),
        ("angle_cranial", math.radians(2.4), "plain"),
        ("angle_cranial", math.radians(-4), "watch"),
        ("angle_cranial", math.radians(5.1), "beyond"),
        ("load_ratio", 0.149, "plain"),
        ("load_ratio", 0.223, "watch"),
        ("load_ratio", 0.26, "beyond"),
        ("middle_share", 0.03, "beyond"),
        ("middle_share", 0.30, "plain"),
    ],
)
def test_levels_begin_where_they_should(code, value, level):
    assert level_of(RULE[code], value) == level


def test_every_rule_names_its_source_and_how_far_it_was_read():
    for rule in RULES:
        assert rule.source, rule.code
        assert re.match(r"(V-A|V-S|V-M|C|D)\b", rule.status), rule.code
        assert all(rule.texts), rule.code
        assert rule.plain[0] >= rule.beyond[0], rule.code
        assert rule.plain[1] <= rule.beyond[1], rule.code
    assert len(RULE) == len(RULES)


def test_findings_are_no_diagnoses():
    banned = r"lame|injur|disease|diagnos|patholog|strain|inflam|arthr|kissing|pain\b|ulcer|safe"
    for rule in RULES:
        assert not re.search(banned, " ".join(rule.texts), re.IGNORECASE), rule.code
    assert re.search(banned, "diagnosis of a strained muscle")


def pressures(left: float, right: float) -> list[Measure]:
    return [
        Measure("mean_pressure", left, "Pa", "cranial", "left"),
        Measure("mean_pressure", right, "Pa", "cranial", "right"),
        Measure("mean_pressure", (left + right) / 2, "Pa", "cranial"),
    ]


def test_worse_side_is_reported_and_not_the_mean_of_both():
    found = findings_of({"standing": pressures(8e3, 18e3)}, is_bar_tree=False)
    finding = next(f for f in found if f.code == "mean_pressure_cranial")
    assert (finding.side, finding.value, finding.level) == ("right", 18e3, "beyond")
    assert finding.limit == pytest.approx(16.5e3)
    even = findings_of({"standing": pressures(8e3, 8e3)}, is_bar_tree=False)
    assert next(f for f in even if f.code == "mean_pressure_cranial").level == "plain"


def test_every_load_case_counts_for_peaks():
    calm = [Measure("peak_pressure", 20e3, "Pa", "caudal", "left")]
    hard = [Measure("peak_pressure", 33e3, "Pa", "caudal", "left")]
    found = findings_of({"standing": calm, "rider_left": hard}, is_bar_tree=False)
    assert (found[0].case, found[0].level) == ("rider_left", "beyond")


def test_pressure_under_bars_is_low_evidence():
    by_case = {"standing": pressures(18e3, 18e3)}
    assert findings_of(by_case, is_bar_tree=True)[0].evidence == "low"
    assert findings_of(by_case, is_bar_tree=False)[0].evidence == "published"


def test_plain_findings_say_nothing():
    found = findings_of({"standing": pressures(8e3, 8e3)}, is_bar_tree=False)
    assert found[0].text == ""
    loud = findings_of({"standing": pressures(18e3, 8e3)}, is_bar_tree=False)
    assert "harder" in loud[0].text


def test_rule_without_anything_to_read_is_silent():
    assert findings_of({}, is_bar_tree=True) == ()
