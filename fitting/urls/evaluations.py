"""/calibration/, /evaluations/ and asking for one: /pairings/<pairing>/evaluate/."""

from django.urls import path

from fitting.views import evaluations, sensitivity
from fitting.views.back_change import horse_back_change
from fitting.views.calibration import calibration

urlpatterns = [
    path("horses/<int:pk>/back-change/", horse_back_change, name="back_change"),
    path("calibration/", calibration, name="calibration"),
    path("evaluations/<int:pk>/", evaluations.evaluation_detail, name="evaluation_detail"),
    path("evaluations/<int:pk>/status/", evaluations.evaluation_status, name="evaluation_status"),
    path(
        "evaluations/<int:pk>/hangs-on/",
        sensitivity.evaluation_sensitivity,
        name="evaluation_sensitivity",
    ),
    path(
        "evaluations/<int:pk>/hangs-on/status/",
        sensitivity.evaluation_sensitivity_status,
        name="evaluation_sensitivity_status",
    ),
    path(
        "evaluations/<int:pk>/hangs-on/ask/", sensitivity.evaluation_sweep, name="evaluation_sweep"
    ),
    path("evaluations/<int:pk>/again/", evaluations.evaluation_again, name="evaluation_again"),
    path(
        "evaluations/<int:pk>/compare/<int:other_pk>/",
        evaluations.evaluation_compare,
        name="evaluation_compare",
    ),
    path("horses/<int:horse_pk>/evaluations/", evaluations.evaluation_list, name="evaluation_list"),
    path(
        "pairings/<int:pairing_pk>/evaluate/",
        evaluations.evaluation_request,
        name="evaluation_request",
    ),
]
