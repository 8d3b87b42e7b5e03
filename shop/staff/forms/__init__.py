"""The forms of people, their sign-in and the shop's facts."""

from shop.staff.forms.people import AddPersonForm, DayOffForm, PersonForm, WeekForm
from shop.staff.forms.shop import ShopForm
from shop.staff.forms.sign_in import MyPasswordForm, PasswordForm, SetUpForm, SignInForm

__all__ = [
    "AddPersonForm",
    "DayOffForm",
    "MyPasswordForm",
    "PasswordForm",
    "PersonForm",
    "SetUpForm",
    "ShopForm",
    "SignInForm",
    "WeekForm",
]
