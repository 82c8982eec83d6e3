"""/visits/ booking."""

from django.urls import path

from practice.views import visits

urlpatterns = [
    path("visits/", visits.visit_list, name="visit_list"),
    path("visits/book/", visits.visit_book, name="visit_book"),
    path("visits/horse-choices/", visits.visit_horse_choices, name="visit_horse_choices"),
    path("visits/<int:pk>/", visits.visit_detail, name="visit_detail"),
    path("visits/<int:pk>/edit/", visits.visit_edit, name="visit_edit"),
    path("visits/<int:pk>/cancel/", visits.visit_cancel, name="visit_cancel"),
]
