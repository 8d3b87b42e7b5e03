"""The check of who may have a key, as the technician fills it in on the phone."""

from collections.abc import Collection, Sequence
from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.core.files.base import ContentFile
from django.utils import timezone

from jobs.actions import CheckFacts
from jobs.forms.photo import ACCEPTED
from jobs.models import AuthorityPhoto, DocumentKind, Job
from jobs.record_rules import ExceptionKind, Fact
from jobs.record_rules.facts import PAPERS_WORDS, RELATIONSHIP_WORDS
from jobs.record_rules.rule import EXCEPTION_WORDS
from jobs.rules import check_born_on
from jobs.signatures import LONGEST_TEXT, BadSignature, Signature, read_strokes, read_typed
from shop.errors import Refused
from shop.forms import CodeInput, PhoneField, PlainForm
from shop.pictures import read_picture
from vehicles.vin import read_vin

PASS, TURN_AWAY, ASK = "pass", "turn_away", "ask"
MOST_PHOTOS = 6
# What stands on the page whatever the rule asks.
ALWAYS = frozenset({Fact.NAME, Fact.RELATIONSHIP, Fact.DOCUMENT_KIND, Fact.PAPERS, Fact.SIGNATURE})
FIELDS_OF: dict[Fact, tuple[str, ...]] = {
    Fact.NAME: ("name",),
    Fact.RELATIONSHIP: ("relationship",),
    Fact.DOCUMENT_KIND: ("document_kind",),
    Fact.DOCUMENT_NUMBER: ("document_number",),
    Fact.BORN_ON: ("born_day", "born_month", "born_year"),
    Fact.ADDRESS: ("address",),
    Fact.PHONE: ("phone",),
    Fact.PAPERS: ("papers",),
    Fact.VIN_MATCH: ("vin_on_car", "vin_on_papers"),
    Fact.LOCK_TYPE: ("lock_type",),
    Fact.CONFIRMED_HOW: ("confirmed_how",),
    Fact.KEY_NOT_MARKED: ("is_key_marked",),
}


class _Number(forms.IntegerField):
    def __init__(self, label: str, least: int, most: int) -> None:
        attrs = {"inputmode": "numeric", "autocomplete": "off", "maxlength": len(str(most)), "class": "figures"}
        words = {"invalid": "Digits only.", "min_value": "Check this.", "max_value": "Check this."}
        widget = forms.TextInput(attrs=attrs)
        super().__init__(
            label=label, required=False, min_value=least, max_value=most, widget=widget, error_messages=words
        )


class _ManyFiles(forms.FileInput):
    allow_multiple_selected = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        return files.getlist(name) if hasattr(files, "getlist") else files.get(name)


class PapersPhotoField(forms.Field):
    """Cleans to JPEGs made anew, whatever the files said that they were."""

    widget = _ManyFiles(attrs={"accept": ACCEPTED, "capture": "environment", "multiple": True})

    def clean(self, value: Any) -> "list[ContentFile[bytes]]":
        sent = value or []
        if len(sent) > MOST_PHOTOS:
            raise ValidationError(f"Send at most {MOST_PHOTOS} photos.", code="invalid")
        try:
            return [ContentFile(read_picture(each, size=each.size or 0), name="papers.jpg") for each in sent]
        except Refused as refused:
            raise ValidationError(str(refused), code="invalid") from None


class CheckForm(PlainForm):
    """Everything that any rule can ask. Nothing is required here: what lacks is told by the rule, in its own words."""

    relationship = forms.ChoiceField(
        label="What makes them entitled",
        choices=list(RELATIONSHIP_WORDS.items()),
        widget=forms.RadioSelect,
        required=False,
    )
    name = forms.CharField(label="Who is asking", max_length=120, required=False)
    document_kind = forms.ChoiceField(
        label="Identity document shown", choices=DocumentKind.choices, widget=forms.RadioSelect, required=False
    )
    document_number = forms.CharField(label="Number of the document", max_length=40, required=False, widget=CodeInput)
    born_day = _Number("Day", 1, 31)
    born_month = _Number("Month", 1, 12)
    born_year = _Number("Year", 1850, 2200)
    papers = forms.MultipleChoiceField(
        label="Papers seen", choices=list(PAPERS_WORDS.items()), widget=forms.CheckboxSelectMultiple, required=False
    )
    vin_on_car = forms.CharField(label="VIN on the car", max_length=60, required=False, widget=CodeInput)
    vin_on_papers = forms.CharField(label="VIN on the papers", max_length=60, required=False, widget=CodeInput)
    address = forms.CharField(label="Their address", max_length=200, required=False)
    phone = PhoneField(label="Their telephone", required=False)
    lock_type = forms.CharField(label="Type of lock", max_length=120, required=False)
    confirmed_how = forms.CharField(label="How identity was confirmed", max_length=200, required=False)
    is_key_marked = forms.TypedChoiceField(
        label="Is the key marked “do not duplicate”?",
        choices=[("no", "No mark"), ("yes", "It is marked")],
        coerce=lambda answer: answer == "yes",
        empty_value=None,
        widget=forms.RadioSelect,
        required=False,
    )
    signature = forms.CharField(required=False, max_length=LONGEST_TEXT, widget=forms.HiddenInput)
    typed_name = forms.CharField(label="Name, typed for a signature", max_length=120, required=False)
    witness = forms.CharField(label="Why it is typed, and who saw it", max_length=160, required=False)
    photo = PapersPhotoField(label="Photos of the papers", required=False)
    away_reason = forms.CharField(label="Why they are turned away", max_length=200, required=False)
    exception = forms.ChoiceField(
        label="Which exception", choices=list(EXCEPTION_WORDS.items()), widget=forms.RadioSelect, required=False
    )
    exception_reason = forms.CharField(label="Why", max_length=300, required=False)

    signed: Signature | None = None
    born_on: date | None = None

    def __init__(self, *args: Any, job: Job, do: str = PASS, **kwargs: Any) -> None:
        self.job = job
        # Turning away, or asking the owner, is never held up by something half typed.
        self.is_strict = do == PASS
        kwargs.setdefault("initial", {"name": job.caller_name or job.customer.name, "phone": job.caller_phone})
        super().__init__(*args, **kwargs)

    def clean_vin_on_car(self) -> str:
        return self._vin("vin_on_car")

    def clean_vin_on_papers(self) -> str:
        return self._vin("vin_on_papers")

    def clean(self) -> dict[str, Any]:
        told = super().clean() or {}
        self._read_birth(told)
        self._read_signature(told)
        if not self.is_strict:
            self._forget_faults()
        return told

    def facts(self, photos: Sequence[AuthorityPhoto]) -> CheckFacts:
        """What was filled in, for the actions."""
        told = self.cleaned_data
        plain = ("name", "address", "phone", "relationship", "document_kind", "vin_on_car", "vin_on_papers")
        more = ("lock_type", "confirmed_how", "document_number")
        return CheckFacts(
            **{name: told.get(name) or "" for name in (*plain, *more)},
            papers=tuple(told.get("papers") or ()),
            is_key_marked=told.get("is_key_marked"),
            born_on=self.born_on,
            signature=self.signed,
            photos=photos,
        )

    def mark_asked(self, names: Collection[str]) -> None:
        """Takes the word "optional" from what the rule asks for; to be called once the form has been checked."""
        for name in names:
            self.fields[name].required = True

    @property
    def born_parts(self) -> list[forms.BoundField]:
        return [self["born_day"], self["born_month"], self["born_year"]]

    @property
    def exception_kind(self) -> ExceptionKind:
        chosen = self.cleaned_data.get("exception")
        if not chosen:
            raise Refused("Say which exception it is.", field="exception")
        return ExceptionKind(chosen)

    def _vin(self, name: str) -> str:
        text: str = self.cleaned_data[name]
        if not text:
            return ""
        reading = read_vin(text)
        if not reading.is_well_formed:
            raise ValidationError(list(reading.warnings), code="invalid")
        return reading.vin

    def _read_birth(self, told: dict[str, Any]) -> None:
        parts = [told.get(name) for name in ("born_year", "born_month", "born_day")]
        if not any(parts) or any(name in self.errors for name in ("born_year", "born_month", "born_day")):
            return
        if not all(parts):
            self.add_error("born_day", "Give day, month and year.")
            return
        try:
            born_on = date(*parts)  # type: ignore[arg-type]
            check_born_on(born_on, today=timezone.localdate())
        except ValueError:
            self.add_error("born_day", "There is no such day.")
        except Refused as refused:
            self.add_error("born_day", str(refused))
        else:
            self.born_on = born_on

    def _read_signature(self, told: dict[str, Any]) -> None:
        try:
            if told.get("signature"):
                self.signed = read_strokes(told["signature"])
            elif told.get("typed_name") or told.get("witness"):
                self.signed = read_typed(told.get("typed_name", ""), told.get("witness", ""))
        except BadSignature as bad:
            self.add_error("signature" if told.get("signature") else "typed_name", str(bad))

    def _forget_faults(self) -> None:
        for name in [each for each in self.errors if each != "photo"]:
            del self.errors[name]
