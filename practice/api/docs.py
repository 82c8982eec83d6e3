"""/api/v1/docs/: the API's documentation, drawn by files of our own origin."""

from django.contrib.auth.views import redirect_to_login
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import render

from practice.access import may_read


def api_docs(request: HttpRequest) -> HttpResponse:
    """Show the docs page to members; addresses under /api/ pass the general sign-in rule by."""
    if not request.user.is_authenticated:
        return redirect_to_login(request.get_full_path())
    if not may_read(request.user):
        raise Http404
    return render(request, "practice/api_docs.html")
