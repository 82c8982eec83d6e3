"""/sign-in/ and /sign-out/."""

from django.urls import path

from practice.views import session

urlpatterns = [
    path("sign-in/", session.sign_in, name="sign_in"),
    path("sign-out/", session.sign_out, name="sign_out"),
]
