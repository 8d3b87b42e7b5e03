"""A photo from the phone."""

from typing import Any

from django import forms
from django.core.files.base import ContentFile
from django.core.files.uploadedfile import UploadedFile

from shop.errors import Refused
from shop.forms import PlainForm
from shop.pictures import read_picture

# Named one by one: a phone that keeps HEIC then hands out a JPEG.
ACCEPTED = "image/jpeg,image/png,image/webp"


class PhotoField(forms.FileField):
    """Cleans to a JPEG made anew, whatever the file said that it was."""

    widget = forms.FileInput(attrs={"accept": ACCEPTED, "capture": "environment"})

    def clean(self, data: Any, initial: Any = None) -> Any:
        sent: UploadedFile = super().clean(data, initial)
        try:
            return ContentFile(read_picture(sent, size=sent.size or 0), name="photo.jpg")
        except Refused as refused:
            raise forms.ValidationError(str(refused), code="invalid") from None


class PhotoForm(PlainForm):
    file = PhotoField(
        label="Photo", allow_empty_file=True, error_messages={"required": "Take or choose a photo first."}
    )
    words = forms.CharField(label="What it shows", max_length=200, required=False)
