"""Addresses of vehicles, and of what is answered while somebody types."""

from django.urls import path

from vehicles.key_urls import key_patterns
from vehicles.know_urls import know_patterns
from vehicles.views import typing, vehicle

app_name = "vehicles"
urlpatterns = [
    path("callers", typing.caller, name="caller"),
    path("vehicles/read-vin", typing.read_typed_vin, name="read_vin"),
    path("vehicles/<int:pk>", vehicle.show, name="show"),
    path("vehicles/<int:pk>/change", vehicle.change, name="change"),
    path("customers/<int:pk>/vehicles", vehicle.customer_panel, name="customer_panel"),
    path("customers/<int:pk>/vehicles/add", vehicle.add, name="add"),
    *key_patterns,
    *know_patterns,
]
