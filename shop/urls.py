"""Every address of the site; each app lists its own."""

from django.urls import include, path

urlpatterns = [
    path("", include("shop.staff.urls")),
    path("", include("shop.customers.urls")),
    path("", include("shop.stock.urls")),
    path("", include("vehicles.urls")),
    path("", include("jobs.urls")),
    path("", include("billing.urls")),
]
