"""The page of one computed fit: order, words, pictures, privacy, failures, access."""

import json
import re
from collections.abc import Callable
from datetime import UTC, datetime

import pytest
from django.test import Client
from django.urls import reverse
from pytest_django.fixtures import DjangoAssertNumQueries

from fitting.engine import ENGINE_VERSION, RULES, cases_for
from fitting.models import FitEvaluation
from fitting.services.evaluations import start_evaluation
from horses.services.jobs import queue_job
from practice.models import User
from tests.factories import (
    make_horse,
    make_measurement,
    make_pairing,
    make_practice,
    make_soreness_check,
    make_visit,
)
from tests.fitting.evaluated import evaluated, flat_saddle

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture
def client(signed_in: SignIn, fitter: User) -> Client:
    make_practice()
    return signed_in(fitter)


def page_of(client: Client, row: FitEvaluation) -> str:
    return client.get(reverse("evaluation_detail", args=[row.pk])).content.decode()


def figure_of(html: str, name: str) -> dict:
    found = re.search(rf'<script id="{name}-figure" type="application/json">(.*?)</script>', html)
    assert found, f"no figure {name}"
    return json.loads(found[1])


def test_the_parts_come_in_their_order(client: Client) -> None:
    measurement = make_measurement()
    make_soreness_check(measurement.horse, {("LO", "L"): 3})
    html = page_of(client, evaluated(measurement, flat_saddle()))
    parts = (
        'id="felt-title"',
        'id="findings-title"',
        "Where the horse is sore",
        'id="maps-title"',
        'id="sections-title"',
        'id="gaps-title"',
        'id="bearing-title"',
        'id="inputs-title"',
        "call your veterinarian first",
    )
    places = [html.index(part) for part in parts]
    assert places == sorted(places)
    assert "Loin, left: 3 of 4" in html


def test_findings_carry_number_limit_level_source_and_no_total(client: Client) -> None:
    html = page_of(client, evaluated(saddle=flat_saddle()))
    row = html[html.index('id="finding-rock"') :].split("</li>")[0]
    assert "14 mm" in row
    assert "plain -3.0 mm to 5.0 mm, limit -8.0 mm or 8.0 mm" in row
    assert "Beyond the limit" in row
    assert "set here" in row
    assert "There is no total" in html
    assert "score" not in html.lower()


def test_a_sore_back_and_a_plain_model_disagree(client: Client) -> None:
    row = evaluated()
    make_soreness_check(row.pairing.horse, {("BS", "L"): 2})
    plain = [finding | {"level": "plain"} for finding in row.result["findings"]]
    FitEvaluation.objects.filter(pk=row.pk).update(result=row.result | {"findings": plain})
    html = page_of(client, row)
    assert "The hand and the model disagree. The back is right." in html
    assert html.index("disagree-title") < html.index("findings-title")
    assert "the vet" in html


def test_a_quiet_back_under_a_bridging_tree_disagrees_too(client: Client) -> None:
    row = evaluated(saddle=flat_saddle())
    make_soreness_check(row.pairing.horse)
    assert "nothing was felt on the horse" in page_of(client, row)


def test_an_agreeing_pair_says_nothing_of_disagreement(client: Client) -> None:
    row = evaluated(saddle=flat_saddle())
    make_soreness_check(row.pairing.horse, {("LO", "L"): 3})
    assert "disagree" not in page_of(client, row)


def test_only_checks_up_to_the_day_count(client: Client) -> None:
    row = evaluated()
    make_soreness_check(
        row.pairing.horse, {("LO", "L"): 3}, checked_at=datetime(2026, 5, 15, 9, tzinfo=UTC)
    )
    assert "Nobody felt this horse over" in page_of(client, row)


def test_every_picture_is_there_with_a_table(client: Client) -> None:
    html = page_of(client, evaluated(saddle=flat_saddle()))
    names = ["map-standing", "space-standing", *(f"section-S{i}" for i in range(1, 6))]
    names += ["gap-saddle_only", "gap-standing", "thirds"]
    for name in names:
        assert figure_of(html, name)["data"]
    assert html.count('<details class="chart-table">') == len(names)


def cells_of(html: str) -> list[str]:
    return re.findall(r'<a id="case-(\w+)" href="\?case=\1#maps-title"', html)


def test_all_load_cases_stand_side_by_side_each_with_its_numbers(client: Client) -> None:
    html = page_of(client, evaluated(saddle=flat_saddle()))
    assert cells_of(html) == [case.name for case in cases_for()]
    table = html[html.index('id="cases-table"') :].split("</table>")[0]
    assert re.findall(r'<th scope="row">([^<]*)</th>', table) == [c.title for c in cases_for()]


def test_a_case_is_chosen_by_its_address_alone(client: Client) -> None:
    """Without JavaScript the link loads the page again, with the case shown large."""
    row = evaluated(saddle=flat_saddle())
    url = reverse("evaluation_detail", args=[row.pk])
    html = client.get(url, {"case": "rider_left"}).content.decode()
    assert figure_of(html, "map-rider_left")["data"]
    assert 'id="map-standing-figure"' not in html
    chosen = re.findall(r'<a id="case-(\w+)"[^>]*aria-current="true"', html)
    assert chosen == ["rider_left"]
    assert figure_of(client.get(url, {"case": "none"}).content.decode(), "map-standing")["data"]


def test_another_case_is_fetched_without_the_rest_of_the_page(client: Client) -> None:
    row = evaluated(saddle=flat_saddle())
    url = reverse("evaluation_detail", args=[row.pk])
    part = client.get(url, {"case": "saddle_only"}, headers={"HX-Target": "loads"})
    html = part.content.decode()
    assert figure_of(html, "map-saddle_only")["data"]
    assert "findings-title" not in html
    assert "HX-Target" in part["Vary"]  # or a cache would give the part for the page
    FitEvaluation.objects.filter(pk=row.pk).update(result={"type": "FitResult", "old": 1})
    assert client.get(url, headers={"HX-Target": "loads"})["HX-Refresh"] == "true"


def test_all_load_maps_share_one_scale(client: Client) -> None:
    row = evaluated(saddle=flat_saddle())
    url = reverse("evaluation_detail", args=[row.pk])
    tops = {
        figure_of(client.get(url, {"case": name}).content.decode(), f"map-{name}")["data"][0][
            "zmax"
        ]
        for name in ("standing", "ridden_trot", "saddle_only")
    }
    assert len(tops) == 1


def test_a_stride_shows_peaks_and_no_means(client: Client) -> None:
    url = reverse("evaluation_detail", args=[evaluated(saddle=flat_saddle()).pk])
    pages = {
        name: client.get(url, {"case": name}).content.decode()
        for name in ("standing", "ridden_trot")
    }
    tables = {
        name: html[html.index(f'id="map-{name}-figure"') :].split("</table>")[0]
        for name, html in pages.items()
    }
    row = r'<th scope="row">Front third</th><td>([^<]*)</td><td>([^<]*)</td>'
    means = {name: re.search(row, table).groups() for name, table in tables.items()}
    assert means["ridden_trot"][0] == "–"
    assert all("kPa" in text for text in (*means["standing"], means["ridden_trot"][1]))


def test_a_finding_says_how_sure_it_is_where_that_was_drawn(client: Client) -> None:
    row = evaluated(saddle=flat_saddle())
    result = row.result
    rock = next(f for f in result["findings"] if f["code"] == "rock" and f["side"] == "left")
    for finding in result["findings"]:
        finding["share"] = None
    rock["share"] = 0.82
    rule = next(rule for rule in RULES if rule.code == "rock")
    result["bands"] = [
        {"type": "Band", "code": rule.measure, "zone": rule.zone, "side": "left"}
        | {"case": rock["case"]}
        | {"low": 0.009, "middle": 0.014, "high": 0.019}
    ]
    FitEvaluation.objects.filter(pk=row.pk).update(result=result)
    html = page_of(client, row)
    entry = html[html.index('id="finding-rock"') :].split("</li>")[0]
    assert "Likely (82 %) beyond the limit" in entry
    assert "left (near): 9.0 mm to 19 mm in 90 % of draws" in entry
    assert html.count("in 90 % of draws") == 1


def test_a_finding_that_was_not_drawn_says_nothing_of_draws(client: Client) -> None:
    row = evaluated(saddle=flat_saddle())
    findings = [finding | {"share": None} for finding in row.result["findings"]]
    bare = row.result | {"findings": findings, "bands": [], "narrowing": [], "draws": 0}
    FitEvaluation.objects.filter(pk=row.pk).update(result=bare)
    html = page_of(client, row)
    assert "draws" not in html
    assert "How sure" not in html


def test_the_gap_of_the_flat_tree_is_in_the_middle(client: Client) -> None:
    html = page_of(client, evaluated(saddle=flat_saddle()))
    table = html[html.index('id="gap-saddle_only-figure"') :].split("</table>")[0]
    rows = dict(re.findall(r'<th scope="row">(S\d)[^<]*</th><td>([^<]*)</td>', table))
    gap = {
        name: float(words.removesuffix(" mm").replace("touching", "0"))
        for name, words in rows.items()
    }
    assert gap["S4"] > 5 > 1 > max(gap["S1"], gap["S5"])


def test_what_went_in_is_shown_in_the_practice_s_units(client: Client) -> None:
    row = evaluated()
    assert "<dd>21 in</dd>" in page_of(client, row)
    make_practice_metric()
    assert "<dd>53.3 cm</dd>" in page_of(client, row)


def make_practice_metric() -> None:
    from practice.models import Practice

    Practice.objects.update(units="metric")


def test_charts_follow_the_practice_s_units(client: Client) -> None:
    row = evaluated()
    make_practice_metric()
    figure = figure_of(page_of(client, row), "gap-standing")
    assert figure["layout"]["xaxis"]["title"]["text"] == "behind the blade, cm"


def test_the_rider_s_weight_is_kept_private(client: Client) -> None:
    html = page_of(client, evaluated())
    row = html[html.index("Weight in riding clothes") :].split("</dd>")[0]
    assert "kept private" in row
    assert "81.6" not in html
    assert "180 lb" not in html


def test_assumptions_version_and_convergence_are_shown(client: Client) -> None:
    html = page_of(client, evaluated(pad=None))
    assert "no pad is named in the pairing" in html
    assert f"engine {ENGINE_VERSION}" in html
    assert "Force out of balance / load" in html
    assert re.search(r"\d\.\de-\d\d", html)


def test_what_was_computed_stays_when_the_tree_is_changed(client: Client) -> None:
    row = evaluated()
    tree = row.pairing.saddle.tree
    tree.bar_length_mm = 600
    tree.save()
    assert "<dd>21 in</dd>" in page_of(client, row)


def test_plotly_is_loaded_only_when_there_is_something_to_draw(client: Client) -> None:
    done, failed = evaluated(), evaluated(tip_behind_blade_mm=None)
    assert "plotly.min.js" in page_of(client, done)
    assert "plotly" not in page_of(client, failed)


def test_a_failed_fit_lists_what_to_measure_with_links(client: Client) -> None:
    visit = make_visit([horse := make_horse()])
    measurement = make_measurement(horse, visit=visit)
    measurement.sections.filter(station="S5").delete()
    row = evaluated(measurement, tip_behind_blade_mm=None)
    html = page_of(client, row)
    assert "Nothing was guessed" in html
    assert "Section S5, both sides" in html
    assert reverse("record_horse", args=[visit.pk, horse.pk]) in html
    assert reverse("pairing_edit", args=[row.pairing.pk]) in html


def test_a_load_outside_the_bars_says_so_in_words(client: Client) -> None:
    html = page_of(client, evaluated(saddle=flat_saddle(stirrup_behind_tip_mm=700.0)))
    assert "could not be computed" in html
    assert "outside the support" in html
    assert "Traceback" not in html


def test_a_result_in_an_older_form_offers_to_compute_again(client: Client) -> None:
    row = evaluated()
    FitEvaluation.objects.filter(pk=row.pk).update(result={"type": "FitResult", "old": 1})
    html = page_of(client, row)
    assert "Stored by an older engine" in html
    assert "Compute again" in html
    url = reverse("evaluation_compare", args=[row.pk, evaluated(row.measurement).pk])
    assert client.get(url).url == reverse("evaluation_detail", args=[row.pk])


def test_a_waiting_fit_polls_and_works_by_reload(client: Client) -> None:
    measurement = make_measurement()
    row = start_evaluation(pairing=make_pairing(measurement.horse), measurement=measurement)
    queue_job(kind="evaluate_fit", arguments={"evaluation": row.pk})
    html = page_of(client, row)
    status = reverse("evaluation_status", args=[row.pk])
    assert f'hx-get="{status}"' in html
    noscript = html[html.index("<noscript>") :].split("</noscript>")[0]
    assert reverse("evaluation_detail", args=[row.pk]) in noscript
    waiting = client.get(status)
    assert "Waiting for its turn" in waiting.content.decode()
    assert "HX-Refresh" not in waiting
    FitEvaluation.objects.filter(pk=row.pk).update(state="failed")
    assert client.get(status)["HX-Refresh"] == "true"


def test_asking_computes_and_leads_to_the_page(
    client: Client, django_capture_on_commit_callbacks
) -> None:
    visit = make_visit([horse := make_horse()])
    make_measurement(horse, visit=visit)
    pairing = make_pairing(horse)
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(reverse("evaluation_request", args=[pairing.pk]), {"visit": visit.pk})
    row = FitEvaluation.objects.get()
    assert answer.url == reverse("evaluation_detail", args=[row.pk])
    assert (row.state, row.visit) == (FitEvaluation.State.DONE, visit)


def test_asking_without_a_measured_back_says_what_to_do(client: Client) -> None:
    pairing = make_pairing()
    answer = client.post(reverse("evaluation_request", args=[pairing.pk]))
    assert answer.url == reverse("horse_detail", args=[pairing.horse.pk])
    assert not FitEvaluation.objects.exists()


def test_computing_again_keeps_the_old_one(
    client: Client, django_capture_on_commit_callbacks
) -> None:
    row = evaluated()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("evaluation_again", args=[row.pk]))
    assert FitEvaluation.objects.filter(state="done").count() == 2


def test_the_list_shows_key_numbers_and_failures(client: Client) -> None:
    measurement = make_measurement()
    evaluated(measurement, flat_saddle(tag="SD-91"))
    evaluated(measurement, flat_saddle(tag="SD-92"), tip_behind_blade_mm=None)
    url = reverse("evaluation_list", args=[measurement.horse.pk])
    html = client.get(url).content.decode()
    gap = FitEvaluation.objects.get(state="done").measures["saddle_only.bridge_gap.left"]
    assert f"{gap * 1000:.1f} mm / " in html
    assert "Could not be computed: Cannot be computed yet." in html
    only = FitEvaluation.objects.get(pairing__saddle__tag="SD-91").pairing_id
    assert "SD-92" not in client.get(url, {"pairing": only}).content.decode()


def count_queries(client: Client, url: str) -> int:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    client.get(url)  # session and practice are read once more on the first page
    with CaptureQueriesContext(
        connection,
    ) as seen:
        client.get(url)
    return len(seen)


def test_the_list_costs_the_same_however_long(client: Client) -> None:
    row = evaluated()
    url = reverse("evaluation_list", args=[row.pairing.horse.pk])
    one = count_queries(client, url)
    for _ in range(3):
        evaluated(row.measurement, flat_saddle())
    assert count_queries(client, url) == one


def test_the_page_costs_the_same_however_many_are_beside_it(
    client: Client, django_assert_max_num_queries: DjangoAssertNumQueries
) -> None:
    row = evaluated()
    make_soreness_check(row.pairing.horse)
    evaluated(row.measurement, flat_saddle())
    url = reverse("evaluation_detail", args=[row.pk])
    two = count_queries(client, url)
    for _ in range(3):
        evaluated(row.measurement, flat_saddle())
    assert count_queries(client, url) == two
    with django_assert_max_num_queries(12):
        client.get(url)


@pytest.mark.parametrize(
    ("name", "method"),
    [
        ("evaluation_detail", "get"),
        ("evaluation_status", "get"),
        ("evaluation_again", "post"),
    ],
)
def test_a_stranger_finds_nothing(
    signed_in: SignIn, stranger: User, name: str, method: str
) -> None:
    url = reverse(name, args=[evaluated().pk])
    assert getattr(signed_in(stranger), method)(url).status_code == 404
    assert getattr(Client(), method)(url).status_code == 302


def test_a_reader_sees_but_cannot_ask(signed_in: SignIn, reader: User) -> None:
    row = evaluated()
    looking = signed_in(reader)
    html = page_of(looking, row)
    assert "Compute again" not in html
    again = reverse("evaluation_again", args=[row.pk])
    assert looking.post(again).status_code == 403
    assert FitEvaluation.objects.count() == 1


def test_an_unknown_number_is_not_found(client: Client) -> None:
    assert client.get(reverse("evaluation_detail", args=[999])).status_code == 404
