"""How far computed pressures can be trusted: the model against published experiments."""

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from fitting.adapters.calibration_page import calibration_page


def calibration(request: HttpRequest) -> HttpResponse:
    return render(request, "fitting/calibration.html", {"page": calibration_page()})
