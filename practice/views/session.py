"""Signing in and out."""

from django.contrib.auth.views import LoginView, LogoutView

from practice.access import public

sign_in = public(
    LoginView.as_view(template_name="practice/sign_in.html", redirect_authenticated_user=True)
)
sign_out = public(LogoutView.as_view())
