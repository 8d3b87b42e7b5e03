"""Model fields and file storage that keep what they hold encrypted."""

from typing import Any

from django.core.files.base import ContentFile, File
from django.core.files.storage import FileSystemStorage
from django.db import models
from django.db.backends.base.base import BaseDatabaseWrapper
from django.utils.deconstruct import deconstructible

from shop.guarded.keyring import keyring
from shop.guarded.sealed import Sealed


class GuardedField(models.BinaryField):
    """Any JSON value, encrypted. Write the plain value; reading gives `Sealed`. None stays null; "" is sealed too."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        kwargs.setdefault("null", True)
        kwargs.setdefault("blank", True)
        kwargs.setdefault("editable", False)
        super().__init__(*args, **kwargs)

    @property
    def kind(self) -> str:
        """What a permit must name to open it: app.model.field."""
        meta = self.model._meta
        return f"{meta.app_label}.{meta.model_name}.{self.name}"

    def from_db_value(self, value: Any, expression: Any, connection: BaseDatabaseWrapper) -> Sealed | None:
        return None if value is None else Sealed(self.kind, bytes(value))

    def get_prep_value(self, value: Any) -> Any:
        if value is None:
            return None
        return value.token if isinstance(value, Sealed) else keyring().seal(self.kind, value)

    def get_db_prep_value(self, value: Any, connection: BaseDatabaseWrapper, prepared: bool = False) -> Any:
        plain = value if prepared else self.get_prep_value(value)
        return super().get_db_prep_value(plain, connection, prepared=True)

    def get_lookup(self, lookup_name: str) -> Any:
        """Only "is it there?" can be asked of a sealed column; search goes by fingerprint."""
        if lookup_name != "isnull":
            raise TypeError(f"{self.kind} is sealed: only isnull can be asked of it.")
        return super().get_lookup(lookup_name)

    def value_to_string(self, obj: models.Model) -> str:
        return "sealed"


@deconstructible
class GuardedStorage(FileSystemStorage):
    """Files encrypted on disk. They have no address: a checked view reads them through `read`."""

    def _save(self, name: str, content: "File[Any]") -> str:
        content.seek(0)
        return super()._save(name, ContentFile(keyring().seal_bytes(content.read())))  # type: ignore[misc]

    def read(self, name: str) -> bytes:
        """The content again, for the view that recorded the opening. Raises WrongGuardKey."""
        with super().open(name, "rb") as kept:
            return keyring().unseal_bytes(kept.read())

    def url(self, name: str | None) -> str:
        raise ValueError("A guarded file has no address of its own.")
