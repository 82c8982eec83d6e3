"""Sharing a report by an unguessable link, taking the link back, and counting its openings."""

from datetime import timedelta
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.db import transaction
from django.utils import timezone

from practice.models import ShareLink, ShareView, User, VisitHorse

LONGEST_DAYS = 730


@transaction.atomic
def share_report(
    *,
    visit_horse: VisitHorse,
    content: dict[str, Any],
    created_by: User,
    days: int | None = None,
) -> ShareLink:
    """Freeze a report's content under a new link that runs out after `days`.

    Later changes to the records do not reach what was shared.
    """
    lasting = settings.SHARE_LINK_DAYS if days is None else days
    if not 1 <= lasting <= LONGEST_DAYS:
        raise ValidationError(
            {"days": f"A link lasts from 1 to {LONGEST_DAYS} days, not {lasting}."}
        )
    link = ShareLink(
        visit_horse=visit_horse,
        content=content,
        expires_at=timezone.now() + timedelta(days=lasting),
        created_by=created_by,
    )
    link.full_clean()
    link.save()
    return link


@transaction.atomic
def revoke_share(*, link: ShareLink) -> ShareLink:
    """Close a link for good; doing it again keeps the first time."""
    if link.revoked_at is None:
        link.revoked_at = timezone.now()
        link.full_clean()
        link.save()
    return link


def log_view(*, link: ShareLink) -> ShareView:
    """Note that a shared report was opened; nothing about the reader is kept."""
    return ShareView.objects.create(link=link)
