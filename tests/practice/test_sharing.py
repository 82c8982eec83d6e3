"""Sharing a report: frozen content, one page for every dead link, openings counted, no traces."""

from collections.abc import Callable
from datetime import timedelta

import pytest
import time_machine
from django.core.exceptions import ValidationError
from django.test import Client
from django.urls import reverse

from fitting.models import Verdict
from practice.models import ShareLink, ShareView, User, VisitHorse, new_token
from practice.report.privacy import private_words
from practice.selectors.reports import records_for_report
from practice.services.shares import revoke_share
from tests.factories import make_horse, make_visit
from tests.practice.owner_report import NOON, PRIVATE, make_reported_visit, share

SignIn = Callable[[User], Client]
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock() -> object:
    with time_machine.travel(NOON, tick=False) as clock:
        yield clock


@pytest.fixture
def visit_horse(fitter: User) -> VisitHorse:
    return make_reported_visit(fitter)


@pytest.fixture
def link(visit_horse: VisitHorse, fitter: User) -> ShareLink:
    made: ShareLink = share(visit_horse, fitter)
    return made


def url_of(link: ShareLink) -> str:
    return reverse("shared_report", args=[link.token])


def preview_of(visit_horse: VisitHorse) -> str:
    return reverse("report_preview", args=[visit_horse.visit_id, visit_horse.horse_id])


def create_url(visit_horse: VisitHorse) -> str:
    return reverse("share_create", args=[visit_horse.visit_id, visit_horse.horse_id])


def revoke_url(link: ShareLink) -> str:
    row = link.visit_horse
    return reverse("share_revoke", args=[row.visit_id, row.horse_id, link.pk])


def test_anyone_with_the_link_reads_the_report_without_signing_in(link: ShareLink) -> None:
    response = Client().get(url_of(link))
    assert response.status_code == 200
    html = response.content.decode()
    assert "Corporal Thistle" in html
    assert "Not this saddle on this horse" in html
    for words in PRIVATE:
        assert words not in html


def test_shared_page_leaves_no_traces(link: ShareLink) -> None:
    response = Client().get(url_of(link))
    assert response["X-Robots-Tag"] == "noindex, nofollow, noarchive"
    assert response["Referrer-Policy"] == "no-referrer"
    assert response["Cache-Control"] == "private, no-store"
    assert not response.cookies
    html = response.content.decode()
    assert '<meta name="robots" content="noindex, nofollow, noarchive">' in html
    assert '<meta name="referrer" content="no-referrer">' in html
    assert link.token not in html
    assert "csrfmiddlewaretoken" not in html


def test_later_changes_do_not_reach_what_was_shared(link: ShareLink, fitter: User) -> None:
    before = Client().get(url_of(link)).content
    Verdict.objects.update(word="carry_on", reason="All is well now.", also_rest_first=False)
    horse = link.visit_horse.horse
    horse.barn_name = "Renamed"
    horse.save()
    horse.soreness_checks.get(moment="visit").scores.update(score=0, note="")
    horse.measurements.update(girth_mm=1900)
    assert Client().get(url_of(link)).content == before
    fresh = share(VisitHorse.objects.get(pk=link.visit_horse_id), fitter)
    assert b"All is well now." in Client().get(url_of(fresh)).content


def test_wrong_revoked_and_run_out_links_give_the_same_page(
    link: ShareLink, visit_horse: VisitHorse, fitter: User
) -> None:
    revoked = revoke_share(link=share(visit_horse, fitter))
    with time_machine.travel(NOON - timedelta(days=40), tick=False):
        run_out = share(visit_horse, fitter, days=30)
    tokens = (revoked.token, run_out.token, new_token(), "x", link.token[:-1])
    answers = [Client().get(reverse("shared_report", args=[token])) for token in tokens]
    assert [answer.status_code for answer in answers] == [404] * 5
    assert len({answer.content for answer in answers}) == 1
    headers = [
        {k: v for k, v in answer.items() if k != "Content-Security-Policy"} for answer in answers
    ]
    assert all(h == headers[0] for h in headers)
    assert Client().get(url_of(link)).content != answers[0].content
    assert ShareView.objects.count() == 1  # the good link just opened; the others left nothing


def test_link_stops_on_the_minute_it_runs_out(visit_horse: VisitHorse, fitter: User) -> None:
    link = share(visit_horse, fitter, days=14)
    with time_machine.travel(NOON + timedelta(days=14, minutes=-1), tick=False):
        assert Client().get(url_of(link)).status_code == 200
    with time_machine.travel(NOON + timedelta(days=14), tick=False):
        assert Client().get(url_of(link)).status_code == 404


def test_without_a_choice_a_link_lasts_as_the_settings_say(
    link: ShareLink, visit_horse: VisitHorse, fitter: User, settings: object
) -> None:
    assert link.expires_at == NOON + timedelta(days=settings.SHARE_LINK_DAYS)  # type: ignore[attr-defined]
    for days in (0, 731):
        with pytest.raises(ValidationError, match="from 1 to 730 days"):
            share(visit_horse, fitter, days=days)


def test_openings_are_counted_but_not_those_of_the_practice(
    link: ShareLink, fitter: User, stranger: User, signed_in: SignIn
) -> None:
    signed_in(fitter).get(url_of(link))
    Client().head(url_of(link))
    assert link.views.count() == 0
    Client().get(url_of(link))
    signed_in(stranger).get(url_of(link))
    assert link.views.count() == 2


def test_tokens_are_long_and_never_alike() -> None:
    tokens = {new_token() for _ in range(200)}
    assert len(tokens) == 200
    assert min(len(token) for token in tokens) >= 43  # 256 bits in base 64


def test_fitter_previews_shares_and_revokes(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    client = signed_in(fitter)
    page = client.get(preview_of(visit_horse))
    assert page.status_code == 200
    assert "Not shared yet." in page.content.decode()
    sent = {"recipient": "Garrick Nettleworth", "days": "30", "ride_on": "2026-06-06"}
    answer = client.post(create_url(visit_horse), sent)
    assert answer.status_code == 302
    link = ShareLink.objects.get()
    assert link.expires_at == NOON + timedelta(days=30)
    assert link.content["copies"][1] == "Garrick Nettleworth, by link"
    Client().get(url_of(link))
    page = client.get(preview_of(visit_horse)).content.decode()
    assert url_of(link) in page
    assert "Opened 1 time, last 14 May 2026, 12:00." in page
    client.post(revoke_url(link))
    page = client.get(preview_of(visit_horse)).content.decode()
    assert url_of(link) not in page
    assert "Closed 14 May 2026, 12:00" in page
    assert Client().get(url_of(link)).status_code == 404


def test_bad_input_is_answered_at_the_field_and_kept(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    sent = {"recipient": "The new owner", "days": "30", "ride_on": "2026-05-01"}
    answer = signed_in(fitter).post(create_url(visit_horse), sent)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert 'value="The new owner"' in html
    assert ShareLink.objects.count() == 0


def test_private_words_stop_the_sharing_with_their_reason(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    Verdict.objects.update(advice="Meet at Tinbrook Flats.")
    sent = {"recipient": "Garrick", "days": "30"}
    answer = signed_in(fitter).post(create_url(visit_horse), sent)
    assert answer.status_code == 422
    assert "the place: “Tinbrook Flats”" in answer.content.decode()
    assert ShareLink.objects.count() == 0


@pytest.mark.parametrize(
    ("advice", "is_private"),
    [
        ("Rider at 180lbs.", True),
        ("Rider is 12 st 12 lb.", True),
        ("Carries 82 kg.", True),
        ("The horse weighs 1180 lb.", False),
        ("The horse weighs 1,180 lb or 482 kg.", False),
    ],
)
def test_a_riders_weight_is_found_but_not_inside_a_horses(
    visit_horse: VisitHorse, advice: str, is_private: bool
) -> None:
    records = records_for_report(visit_horse)
    assert bool(private_words({"advice": advice}, records)) == is_private


def test_without_a_verdict_there_is_nothing_to_share(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    Verdict.objects.all().delete()
    client = signed_in(fitter)
    assert "Sign a verdict first" in client.get(preview_of(visit_horse)).content.decode()
    answer = client.post(create_url(visit_horse), {"recipient": "G", "days": "30"})
    assert answer.status_code == 422
    assert ShareLink.objects.count() == 0


def test_who_may_do_what(
    link: ShareLink,
    visit_horse: VisitHorse,
    reader: User,
    stranger: User,
    signed_in: SignIn,
) -> None:
    preview, create, revoke = preview_of(visit_horse), create_url(visit_horse), revoke_url(link)
    assert signed_in(reader).get(preview).status_code == 200
    assert "Make a link" not in signed_in(reader).get(preview).content.decode()
    assert signed_in(reader).post(create, {}).status_code == 403
    assert signed_in(reader).post(revoke).status_code == 403
    for url in (preview, create, revoke):
        assert signed_in(stranger).get(url).status_code == 404
        assert signed_in(stranger).post(url).status_code == 404
        assert Client().get(url).status_code == 302  # to the sign-in page
    link.refresh_from_db()
    assert link.revoked_at is None


def test_a_link_can_only_be_closed_at_its_own_report(
    link: ShareLink, fitter: User, signed_in: SignIn
) -> None:
    other = make_visit([make_horse(barn_name="Anvil")]).visit_horses.get()
    url = reverse("share_revoke", args=[other.visit_id, other.horse_id, link.pk])
    assert signed_in(fitter).post(url).status_code == 404
    link.refresh_from_db()
    assert link.revoked_at is None


def test_a_horse_not_on_the_visit_has_no_report(
    visit_horse: VisitHorse, fitter: User, signed_in: SignIn
) -> None:
    other = make_horse(barn_name="Anvil")
    url = reverse("report_preview", args=[visit_horse.visit_id, other.pk])
    assert signed_in(fitter).get(url).status_code == 404
