"""The practice's own settings and its members. Only the lead changes them."""

from django.contrib import messages
from django.contrib.auth import update_session_auth_hash
from django.core.exceptions import PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from horses.views.saving import saved
from practice.access import lead_only
from practice.forms.people import MemberForm, PracticeForm
from practice.models import Practice, User
from practice.selectors.people import members_listed
from practice.services.people import add_member, change_member, change_practice


def practice_settings(request: HttpRequest) -> HttpResponse:
    practice = Practice.objects.first() or Practice()
    is_lead = isinstance(request.user, User) and request.user.is_lead
    if request.method == "POST" and not is_lead:
        raise PermissionDenied("Only the lead changes the practice's settings.")
    form = PracticeForm(request.POST or None, record=practice)
    done = saved(request, form, lambda: change_practice(practice=practice, **form.values()))
    if done is None:
        context = {"form": form, "is_lead": is_lead, "settings": practice}
        return render(request, "practice/practice_settings.html", context)
    messages.success(request, "The settings are saved.")
    return redirect("practice_settings")


@lead_only
def member_list(request: HttpRequest) -> HttpResponse:
    return render(request, "practice/member_list.html", {"members": members_listed()})


@lead_only
def member_add(request: HttpRequest) -> HttpResponse:
    form = MemberForm(request.POST or None)
    member = saved(request, form, lambda: add_member(**form.values()))
    if member is None:
        return render(request, "practice/member_form.html", {"form": form})
    messages.success(request, f"{member} may now sign in.")
    return redirect("member_list")


@lead_only
def member_edit(request: HttpRequest, pk: int) -> HttpResponse:
    member = get_object_or_404(User, pk=pk)
    form = MemberForm(request.POST or None, record=member)
    if saved(request, form, lambda: change_member(member=member, **form.values())) is None:
        return render(request, "practice/member_form.html", {"form": form, "member": member})
    if member == request.user:
        update_session_auth_hash(request, member)
    messages.success(request, f"{member} is saved.")
    return redirect("member_list")
