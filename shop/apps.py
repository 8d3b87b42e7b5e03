from django.apps import AppConfig

from shop.celery import app as celery_app

__all__ = ["ShopConfig", "celery_app"]


class ShopConfig(AppConfig):
    name = "shop"

    def ready(self) -> None:
        """Registers the system checks."""
        from shop.keeping import checks  # noqa: F401
