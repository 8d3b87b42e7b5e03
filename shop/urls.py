"""Every address of the site; each app lists its own."""

from django.conf import settings
from django.urls import include, path

from shop.staff.views.home import home
from shop.views import specimen
from shop.views.health import health

urlpatterns = [
    path("", home, name="home"),
    path("health", health, name="health"),
    path("specimen", specimen.specimen, name="specimen"),
    path("specimen/phone", specimen.phone_specimen, name="specimen_phone"),
    path("specimen/paper", specimen.paper_specimen, name="specimen_paper"),
    path("", include("shop.staff.urls")),
    path("", include("shop.customers.urls")),
    path("", include("shop.stock.urls")),
    path("", include("vehicles.urls")),
    path("", include("jobs.urls")),
    path("", include("billing.urls")),
]

if settings.BENCH:
    urlpatterns.append(path("", include("shop.bench.urls")))
