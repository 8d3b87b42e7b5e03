"""Addresses of customers and their places."""

from django.urls import path

from shop.customers.views import address, customer
from shop.customers.views import list as all_customers

app_name = "customers"
urlpatterns = [
    path("customers", all_customers.customers, name="list"),
    path("customers/add", customer.add, name="add"),
    path("customers/known-number", customer.known_number, name="known_number"),
    path("customers/<int:pk>", customer.show, name="show"),
    path("customers/<int:pk>/change", customer.change, name="change"),
    path("customers/<int:pk>/addresses/add", address.add, name="add_address"),
    path("addresses/<int:pk>", address.change, name="change_address"),
    path("addresses/<int:pk>/remove", address.remove, name="remove_address"),
    path("addresses/put-back/<str:kept>", address.put_back, name="put_back_address"),
]
