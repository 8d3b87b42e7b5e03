"""The addresses of the baselines; included only where BITTERN_BENCH is set."""

from django.http import Http404, HttpRequest
from django.http.response import HttpResponseBase
from django.urls import path
from django.utils.module_loading import autodiscover_modules

import shop.bench.baselines  # noqa: F401
from shop.bench.registry import baselines

autodiscover_modules("figures")


def show(request: HttpRequest, name: str) -> HttpResponseBase:
    """The baseline called `name`."""
    if name not in baselines:
        raise Http404
    return baselines[name](request)


urlpatterns = [path("bench/<str:name>", show)]
