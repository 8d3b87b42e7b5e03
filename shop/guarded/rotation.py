"""Brings everything guarded under the newest key, a batch at a time, so that an older key can be taken away."""

from collections.abc import Callable, Iterator
from pathlib import Path

from django.apps import apps
from django.db import models

from shop.append_only import erasing
from shop.guarded.fields import GuardedField, GuardedStorage
from shop.guarded.keyring import keyring
from shop.guarded.proof import KIND
from shop.models import GuardProof

BATCH = 500
Progress = Callable[[str, int, int], None]


def guarded_columns() -> Iterator[tuple[type[models.Model], GuardedField]]:
    """Every guarded column of the program."""
    for model in apps.get_models():
        for field in model._meta.get_fields():
            if isinstance(field, GuardedField):
                yield model, field


def guarded_file_columns() -> Iterator[tuple[type[models.Model], models.FileField]]:
    """Every column that names guarded files."""
    for model in apps.get_models():
        for field in model._meta.get_fields():
            if isinstance(field, models.FileField) and isinstance(field.storage, GuardedStorage):
                yield model, field


def rotate(progress: Progress) -> int:
    """Re-seals what an older key sealed; returns how many values and files. Can be stopped and started again."""
    renewed = sum(_rotate_column(model, field, progress) for model, field in guarded_columns())
    renewed += sum(_rotate_files(model, field, progress) for model, field in guarded_file_columns())
    _rotate_proof()
    return renewed


def _rotate_column(model: type[models.Model], field: GuardedField, progress: Progress) -> int:
    rows = model._base_manager.filter(**{f"{field.name}__isnull": False}).order_by("pk")
    total, done, renewed, last = rows.count(), 0, 0, None
    while True:
        # A value sealed anew is the same value, so tables that only grow let it through here.
        with erasing():
            batch = rows.filter(pk__gt=last) if last is not None else rows
            tokens = list(batch.select_for_update().values_list("pk", field.name)[:BATCH])
            for pk, sealed in tokens:
                if not keyring().is_newest(sealed.token):
                    fresh = type(sealed)(field.kind, keyring().renew(sealed.token))
                    model._base_manager.filter(pk=pk).update(**{field.name: fresh})
                    renewed += 1
        if not tokens:
            return renewed
        last, done = tokens[-1][0], done + len(tokens)
        progress(field.kind, done, total)


def _rotate_files(model: type[models.Model], field: models.FileField, progress: Progress) -> int:
    names = list(model._base_manager.exclude(**{field.name: ""}).values_list(field.name, flat=True))
    renewed = 0
    for done, name in enumerate(names, start=1):
        path = Path(field.storage.path(name))
        token = path.read_bytes()
        if not keyring().is_newest(token):
            fresh = path.with_name(f".{path.name}.new")
            fresh.write_bytes(keyring().renew(token))
            fresh.chmod(0o600)
            fresh.replace(path)
            renewed += 1
        progress(f"{model._meta.label_lower}.{field.name} files", done, len(names))
    return renewed


def _rotate_proof() -> None:
    proof = GuardProof.objects.filter(id=GuardProof.SINGLE_ID).first()
    if proof and not keyring().is_newest(proof.token):
        keyring().unseal(KIND, proof.token)
        proof.token = keyring().renew(proof.token)
        proof.save(update_fields=["token"])
