"""Every address of the site, by resource. Each module here heads its list with the path."""

from django.urls import include, path

handler400 = "practice.views.errors.bad_request"
handler403 = "practice.views.errors.forbidden"
handler404 = "practice.views.errors.not_found"
handler500 = "practice.views.errors.server_error"

urlpatterns = [
    path("", include("practice.urls.health")),
    path("", include("practice.urls.session")),
    path("", include("practice.urls.today")),
    path("", include("practice.urls.visits")),
    path("", include("practice.urls.recording")),
    path("", include("practice.urls.people")),
    path("", include("practice.urls.horse_page")),
    path("", include("practice.urls.following")),
    path("", include("practice.urls.reports")),
    path("", include("horses.urls")),
    path("", include("fitting.urls.tack")),
    path("", include("fitting.urls.evaluations")),
    path("api/v1/", include("practice.urls.api")),
]
