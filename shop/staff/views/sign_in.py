"""Signing in and out, and the set-up of a shop that has no people yet."""

from django.contrib.auth import login, logout
from django.contrib.auth.decorators import login_not_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.views.decorators.cache import never_cache
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_POST

from shop.errors import Refused
from shop.http import render_form, safe_next, see, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest, everyone
from shop.staff.actions import set_up_shop
from shop.staff.errors import AlreadySetUp
from shop.staff.forms import SetUpForm, SignInForm
from shop.staff.models import Person
from shop.staff.sign_in import sign_in as find_at_door


@login_not_required
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def sign_in(request: HttpRequest) -> HttpResponse:
    url = safe_next(request, reverse("home"))
    if request.method == "GET" and request.user.is_authenticated:
        return redirect(url)
    form = SignInForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            person = find_at_door(address=request.META.get("REMOTE_ADDR") or "", **form.cleaned_data)
        except Refused as refused:
            form.refuse(refused)
        else:
            login(request, person)
            return see(request, url)
    context = {"form": form, "next": safe_next(request, ""), "is_empty": not Person.objects.exists()}
    return render_form(request, "staff/sign_in.html", context)


@everyone
@require_POST
def sign_out(request: StaffRequest) -> HttpResponse:
    logout(request)
    return see(request, reverse("staff:sign_in"))


@login_not_required
@never_cache
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def set_up(request: HttpRequest) -> HttpResponse:
    form = SetUpForm(request.POST or None)
    if request.method == "GET" and Person.objects.exists():
        return redirect("staff:sign_in")
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            login(request, set_up_shop(**form.cleaned_data))
            return reverse("staff:shop")

        try:
            return see(request, once(request, do))
        except AlreadySetUp as refused:
            tell_refused(request, str(refused))
            return see(request, reverse("staff:sign_in"))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "staff/set_up.html", {"form": form})
