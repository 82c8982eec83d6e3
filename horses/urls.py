"""/horses/ list and edit. Adding a horse is with the people, the page of one is the horse page."""

from django.urls import path

from horses.views import horses

urlpatterns = [
    path("horses/", horses.horse_list, name="horse_list"),
    path("horses/<int:pk>/edit/", horses.horse_edit, name="horse_edit"),
]
