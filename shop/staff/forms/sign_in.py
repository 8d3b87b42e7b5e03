"""Signing in, passwords, and the first owner of an empty shop."""

from typing import Any

from django import forms
from django.contrib.auth.password_validation import validate_password
from django.core.exceptions import ValidationError

from shop.forms import PlainForm
from shop.staff.models import Person

LONGEST_PASSWORD = 200


class EmailInput(forms.EmailInput):
    def __init__(self, attrs: dict[str, Any] | None = None) -> None:
        super().__init__({"autocapitalize": "none", "spellcheck": "false", "autocomplete": "username", **(attrs or {})})


class PasswordField(forms.CharField):
    """A password, taken as typed: blanks at its ends are part of it."""

    def __init__(self, *, is_new: bool = False, **kwargs: Any) -> None:
        autocomplete = "new-password" if is_new else "current-password"
        kwargs.setdefault("widget", forms.PasswordInput({"autocomplete": autocomplete}))
        super().__init__(strip=False, max_length=LONGEST_PASSWORD, **kwargs)


class SignInForm(PlainForm):
    email = forms.EmailField(label="E-mail", widget=EmailInput)
    password = PasswordField(label="Password")


class NewPassword(PlainForm):
    """A form that sets a password; `person` is whose, so that it is not built from their name or e-mail."""

    password = PasswordField(label="New password", is_new=True, help_text="At least 10 characters. Length beats signs.")

    def __init__(self, *args: Any, person: Person | None = None, **kwargs: Any) -> None:
        self.person = person
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        password = cleaned.get("password")
        if password:
            named = Person(name=cleaned.get("name", ""), email=cleaned.get("email", ""))
            try:
                validate_password(password, user=self.person or named)
            except ValidationError as error:
                self.add_error("password", error)
        return cleaned


class PasswordForm(NewPassword):
    """The owner gives somebody a new password."""


class MyPasswordForm(NewPassword):
    old_password = PasswordField(label="Password until now")

    field_order = ["old_password", "password"]

    def clean_old_password(self) -> str:
        typed: str = self.cleaned_data["old_password"]
        if self.person is None or not self.person.check_password(typed):
            raise ValidationError("That is not your password.", code="wrong")
        return typed


class SetUpForm(NewPassword):
    shop_name = forms.CharField(label="Name of the shop", max_length=120)
    name = forms.CharField(label="Your name", max_length=100, widget=forms.TextInput({"autocomplete": "name"}))
    email = forms.EmailField(label="E-mail", widget=EmailInput)

    field_order = ["shop_name", "name", "email", "password"]
