"""/horses/<horse>/ the horse's page: soreness first, then charts, pairings, visits."""

from django.urls import path

from practice.views import horse_page
from practice.views.what_changed import what_changed

urlpatterns = [
    path("horses/<int:pk>/", horse_page.horse_detail, name="horse_detail"),
    path("horses/<int:pk>/what-changed/", what_changed, name="what_changed"),
]
