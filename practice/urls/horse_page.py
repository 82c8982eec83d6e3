"""/horses/<horse>/ the horse's page: soreness first, then charts, pairings, visits."""

from django.urls import path

from practice.views import horse_page
from practice.views.alerts import alert_put_off
from practice.views.through_time import through_time
from practice.views.what_changed import what_changed

urlpatterns = [
    path("horses/<int:pk>/", horse_page.horse_detail, name="horse_detail"),
    path("horses/<int:pk>/through-time/", through_time, name="through_time"),
    path("horses/<int:pk>/what-changed/", what_changed, name="what_changed"),
    path("horses/<int:pk>/alerts/<slug:code>/put-off/", alert_put_off, name="alert_put_off"),
]
