"""The owner's report: preview and sharing for the practice, and the page behind a link."""

from typing import Any, cast

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import ValidationError
from django.http import Http404, HttpRequest, HttpResponse, QueryDict
from django.shortcuts import redirect, render
from django.template.loader import render_to_string
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from practice.access import may_read, public
from practice.forms.shares import ShareForm
from practice.models import ShareLink, User, VisitHorse
from practice.report.content import build_content, default_recipient, first_long_ride
from practice.report.page import page_of
from practice.report.privacy import private_words
from practice.selectors.reports import (
    ReportRecords,
    link_of_report,
    links_of,
    open_link,
    records_for_report,
    visit_horse_or_404,
)
from practice.services.shares import log_view, revoke_share, share_report
from practice.views.unlisted import unlisted

NO_VERDICT = "Sign a verdict first: the report begins with it."


@require_safe
def report_preview(request: HttpRequest, visit_pk: int, horse_pk: int) -> HttpResponse:
    """Show the report as the owner will see it, with the form that shares it and its links."""
    records = records_for_report(visit_horse_or_404(visit_pk, horse_pk))
    return _preview(request, records, _share_form(records))


def _share_form(records: ReportRecords, data: QueryDict | None = None) -> ShareForm:
    return ShareForm(
        data,
        visit_day=records.day,
        recipient=default_recipient(records),
        first_ride=first_long_ride(records.day),
    )


def _preview(
    request: HttpRequest, records: ReportRecords, form: ShareForm, status: int = 200
) -> HttpResponse:
    content = build_content(records, recipient=default_recipient(records)).to_dict()
    context = {
        "visit_horse": records.visit_horse,
        "form": form,
        "links": [(link, _address(link)) for link in links_of(records.visit_horse)],
        "may_share": bool(content["verdicts"]),
        "private": private_words(content, records),
        **page_of(content),
    }
    return render(request, "report/preview.html", context, status=status)


def _address(link: ShareLink) -> str:
    return settings.SITE_URL + reverse("shared_report", args=[link.token])


@require_POST
def share_create(request: HttpRequest, visit_pk: int, horse_pk: int) -> HttpResponse:
    """Freeze the report under a new link."""
    records = records_for_report(visit_horse_or_404(visit_pk, horse_pk))
    form = _share_form(records, request.POST)
    if not form.is_valid():
        return _preview(request, records, form, status=422)
    content = build_content(
        records, ride_on=form.cleaned_data["ride_on"], recipient=form.cleaned_data["recipient"]
    ).to_dict()
    try:
        _check_shareable(content, records)
        share_report(
            visit_horse=records.visit_horse,
            content=content,
            created_by=cast(User, request.user),
            days=form.cleaned_data["days"],
        )
    except ValidationError as problem:
        form.add_error(None, problem)
        return _preview(request, records, form, status=422)
    messages.success(request, "The link is ready. Copy it below and send it.")
    return _back_to_links(records.visit_horse)


def _check_shareable(content: dict[str, Any], records: ReportRecords) -> None:
    if not content["verdicts"]:
        raise ValidationError(NO_VERDICT)
    private = private_words(content, records)
    if private:
        raise ValidationError(
            f"The report would show {'; '.join(private)}. Take it out of the text and share again."
        )


def _back_to_links(visit_horse: VisitHorse) -> HttpResponse:
    to = redirect("report_preview", visit_pk=visit_horse.visit_id, horse_pk=visit_horse.horse_id)
    to["Location"] += "#links"
    return to


@require_POST
def share_revoke(request: HttpRequest, visit_pk: int, horse_pk: int, pk: int) -> HttpResponse:
    """Close a link for good."""
    visit_horse = visit_horse_or_404(visit_pk, horse_pk)
    revoke_share(link=link_of_report(visit_horse, pk))
    messages.success(request, "The link no longer opens anything.")
    return _back_to_links(visit_horse)


@public
@require_safe
def shared_report(request: HttpRequest, token: str) -> HttpResponse:
    """Show what was shared. Every link that doesn't open gives the same page."""
    try:
        link = open_link(token)
    except Http404:
        return unlisted(HttpResponse(render_to_string("report/gone.html"), status=404))
    if request.method == "GET" and not may_read(request.user):
        log_view(link=link)
    page = page_of(link.content) | {"until": link.expires_at}
    return unlisted(HttpResponse(render_to_string("report/shared.html", page)))
