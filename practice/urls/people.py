"""/clients/, /riders/, /places/, /roles/, /settings/, /members/ and adding a horse."""

from django.urls import path

from practice.views import clients, horse_people, places, practice

urlpatterns = [
    # /clients/
    path("clients/", clients.client_list, name="client_list"),
    path("clients/add/", clients.client_add, name="client_add"),
    path("clients/<int:pk>/", clients.client_detail, name="client_detail"),
    path("clients/<int:pk>/edit/", clients.client_edit, name="client_edit"),
    path("clients/<int:client_pk>/riders/add/", clients.rider_add, name="rider_add"),
    path("clients/<int:client_pk>/consents/add/", clients.consent_add, name="consent_add"),
    # /riders/
    path("riders/<int:pk>/edit/", clients.rider_edit, name="rider_edit"),
    path("riders/<int:pk>/weight/", clients.rider_weight, name="rider_weight"),
    # /places/
    path("places/", places.place_list, name="place_list"),
    path("places/add/", places.place_add, name="place_add"),
    path("places/<int:pk>/edit/", places.place_edit, name="place_edit"),
    # /roles/ and /horses/add/
    path("horses/add/", horse_people.horse_add, name="horse_add"),
    path("roles/add/", horse_people.role_add, name="role_add"),
    path("roles/<int:pk>/edit/", horse_people.role_edit, name="role_edit"),
    # /settings/ and /members/
    path("settings/", practice.practice_settings, name="practice_settings"),
    path("members/", practice.member_list, name="member_list"),
    path("members/add/", practice.member_add, name="member_add"),
    path("members/<int:pk>/edit/", practice.member_edit, name="member_edit"),
]
