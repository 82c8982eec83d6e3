"""/rides/, /rounds/, /marks/ and /recovery/<token>/: following a back between visits."""

from django.urls import path

from practice.views import marks, recovery, rides, rounds

urlpatterns = [
    # /rides/
    path("horses/<int:pk>/rides/add/", rides.ride_add, name="ride_add"),
    path("rides/<int:pk>/", rides.ride_detail, name="ride_detail"),
    path("rides/<int:pk>/edit/", rides.ride_edit, name="ride_edit"),
    path("rides/<int:pk>/<slug:moment>/", rides.ride_check, name="ride_check"),
    path("rides/<int:pk>/<slug:moment>/ask/", rides.ride_ask, name="ride_ask"),
    # /rounds/
    path("rounds/", rounds.round_list, name="round_list"),
    path("rounds/<int:pk>/", rounds.round_check_page, name="round_check"),
    # /marks/
    path("horses/<int:pk>/marks/add/", marks.mark_add, name="mark_add"),
    path("marks/<int:pk>/edit/", marks.mark_edit, name="mark_edit"),
    # /recovery/
    path("recovery/<str:token>/", recovery.recovery_answer, name="recovery_answer"),
]
