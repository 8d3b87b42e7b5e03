"""The list of people, and a new one."""

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, owner
from shop.staff.actions import add_person
from shop.staff.forms import AddPersonForm
from shop.staff.models import Person


@owner
@require_safe
def people(request: StaffRequest) -> HttpResponse:
    return render(request, "staff/people.html", {"people": Person.objects.in_order().prefetch_related("weekly_shifts")})


@owner
@sensitive_post_parameters("password")
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest) -> HttpResponse:
    form = AddPersonForm(request.POST or None)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            person = add_person(actor=request.user, **form.cleaned_data)
            tell(request, f"{person.name} may sign in.")
            return reverse("staff:person", args=[person.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    return render_form(request, "staff/add_person.html", {"form": form})
