"""My own password."""

from django.contrib.auth import update_session_auth_hash
from django.http import HttpResponse
from django.urls import reverse
from django.views.decorators.debug import sensitive_post_parameters
from django.views.decorators.http import require_http_methods

from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, everyone
from shop.staff.actions import set_password
from shop.staff.forms import MyPasswordForm


@everyone
@sensitive_post_parameters("password", "old_password")
@require_http_methods(["GET", "POST"])
def my_password(request: StaffRequest) -> HttpResponse:
    form = MyPasswordForm(request.POST or None, person=request.user)
    if request.method == "POST" and form.is_valid():

        def do() -> str:
            person = set_password(request.user, actor=request.user, password=form.cleaned_data["password"])
            update_session_auth_hash(request, person)
            tell(request, "Your password is changed. Other devices are signed out.")
            return reverse("home")

        return see(request, once(request, do))
    return render_form(request, "staff/my_password.html", {"form": form})
