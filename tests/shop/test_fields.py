"""A field is tied to its label, help and error (WAI-ARIA 1.2, aria-describedby and aria-invalid)."""

import re

from django import forms
from django.template import Context, Template

from shop.errors import Refused
from shop.forms import CodeInput, PlainForm


class TagForm(PlainForm):
    plate = forms.CharField(label="Plate", help_text="As on the car.", widget=CodeInput)
    kind = forms.ChoiceField(choices=[("a", "Lock-out"), ("b", "Rekey")], widget=forms.RadioSelect)
    agrees = forms.BooleanField(label="Told")


def render(form: forms.Form, tag: str) -> str:
    return Template(tag).render(Context({"form": form}))


def test_line_ties_label_help_and_error() -> None:
    html = render(TagForm({}), "{% field form.plate size='half' %}")
    assert '<label for="id_plate">Plate</label>' in html
    assert 'aria-invalid="true"' in html
    described = re.search(r'aria-describedby="([^"]+)"', html)
    assert described
    for id_named in described[1].split():
        assert f'id="{id_named}"' in html
    assert 'class="field half"' in html


def test_what_was_typed_stays() -> None:
    assert 'value="&lt;KLM&gt;"' in render(TagForm({"plate": "<KLM>"}), "{% field form.plate %}")


def test_group_is_a_fieldset_with_its_legend_and_error() -> None:
    html = render(TagForm({}), "{% field form.kind %}")
    assert "<legend>Kind</legend>" in html
    described = re.search(r'<fieldset[^>]*aria-describedby="([^"]+)"', html)
    assert described
    assert f'id="{described[1]}"' in html


def test_tick_has_its_label_around_it() -> None:
    assert re.search(
        r"<label[^>]*>\s*<input[^>]*checkbox[^>]*>\s*Told\s*</label>", render(TagForm(), "{% field form.agrees %}")
    )


def test_refusal_stands_beside_the_field_it_names() -> None:
    form = TagForm({"plate": "KLM 204", "kind": "a", "agrees": "on"})
    assert form.is_valid()
    form.refuse(Refused("This plate is on another car.", field="plate"))
    form.refuse(Refused("The shop is closed.", field="nothing here"))
    assert "This plate is on another car." in render(form, "{% field form.plate %}")
    assert "The shop is closed." in render(form, "{% form_errors form %}")
