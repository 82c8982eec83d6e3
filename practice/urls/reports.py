"""/visits/<visit>/horses/<horse>/report/ and the public /r/<token>/."""

from django.urls import path

from practice.views import reports

REPORT = "visits/<int:visit_pk>/horses/<int:horse_pk>/report/"

urlpatterns = [
    path(REPORT, reports.report_preview, name="report_preview"),
    path(f"{REPORT}share/", reports.share_create, name="share_create"),
    path(f"{REPORT}links/<int:pk>/revoke/", reports.share_revoke, name="share_revoke"),
    path("r/<str:token>/", reports.shared_report, name="shared_report"),
]
