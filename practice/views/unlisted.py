"""Pages behind a link: out of search engines, caches and other sites' logs."""

from django.http import HttpResponse


def unlisted(response: HttpResponse) -> HttpResponse:
    response["X-Robots-Tag"] = "noindex, nofollow, noarchive"
    response["Referrer-Policy"] = "no-referrer"
    response["Cache-Control"] = "private, no-store"
    return response
