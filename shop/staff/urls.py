"""Addresses of sign-in, people and the shop's settings."""

from django.urls import path

from shop.staff.views import password, people, person, shop, sign_in

app_name = "staff"
urlpatterns = [
    path("sign-in", sign_in.sign_in, name="sign_in"),
    path("sign-out", sign_in.sign_out, name="sign_out"),
    path("set-up", sign_in.set_up, name="set_up"),
    path("my-password", password.my_password, name="my_password"),
    path("shop", shop.shop_facts, name="shop"),
    path("people", people.people, name="people"),
    path("people/add", people.add, name="add_person"),
    path("people/<int:pk>", person.person, name="person"),
    path("people/<int:pk>/week", person.set_week, name="set_week"),
    path("people/<int:pk>/days-off", person.add_day_off, name="add_day_off"),
    path("people/<int:pk>/password", person.set_password, name="set_password"),
    path("people/<int:pk>/switch-off", person.switch_off, name="switch_off"),
    path("people/<int:pk>/switch-on", person.switch_on, name="switch_on"),
    path("days-off/<int:pk>/remove", person.remove_day_off, name="remove_day_off"),
    path("days-off/put-back/<str:kept>", person.put_back_day_off, name="put_back_day_off"),
]
