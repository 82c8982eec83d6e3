"""/horses/<horse>/ the horse's page: soreness first, then charts, pairings, visits."""

from django.urls import path

from practice.views import horse_page

urlpatterns = [
    path("horses/<int:pk>/", horse_page.horse_detail, name="horse_detail"),
]
