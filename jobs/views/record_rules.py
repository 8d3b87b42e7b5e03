"""Record rules: read, chosen, copied and edited by the owner."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from jobs.actions import choose_rule, copy_rule, edit_rule
from jobs.authority import current_rule
from jobs.forms.record_rules import NameForm, RuleForm, entry_forms
from jobs.models import RecordRule
from jobs.record_rules import Entry, Fact
from jobs.record_rules.facts import FACT_WORDS
from jobs.states import KindOfWork
from shop.errors import Refused
from shop.http import see, tell
from shop.once import once
from shop.staff.access import StaffRequest, owner

KINDS = {str(value): label for value, label in KindOfWork.choices}


@owner
@require_safe
def rules(request: StaffRequest) -> HttpResponse:
    chosen = current_rule()
    newest = list(RecordRule.objects.newest())
    has_newer = chosen not in newest
    return render(request, "jobs/rules/list.html", {"rules": newest, "chosen": chosen, "has_newer": has_newer})


@owner
@require_safe
def rule(request: StaffRequest, rule_id: int) -> HttpResponse:
    row = get_object_or_404(RecordRule, pk=rule_id)
    return _show(request, row, NameForm(initial={"name": f"{row.name}, ours"}))


@owner
@require_POST
def choose(request: StaffRequest, rule_id: int) -> HttpResponse:
    row = get_object_or_404(RecordRule, pk=rule_id)

    def do() -> str:
        choose_rule(row, actor=request.user)
        tell(request, f"The shop follows “{row.name}” from now on. What was recorded keeps its rule.")
        return reverse("jobs:rules")

    return see(request, once(request, do))


@owner
@require_POST
def copy(request: StaffRequest, rule_id: int) -> HttpResponse:
    row = get_object_or_404(RecordRule, pk=rule_id)
    form = NameForm(request.POST)
    if form.is_valid():
        try:
            return see(request, once(request, lambda: _copied(request, row, form)))
        except Refused as refused:
            form.refuse(refused)
    return _show(request, row, form, status=422)


@owner
@require_http_methods(["GET", "POST"])
def edit(request: StaffRequest, rule_id: int) -> HttpResponse:
    row = get_object_or_404(RecordRule.objects.filter(is_shipped=False), pk=rule_id)
    data = request.POST if request.method == "POST" else None
    form, entries = RuleForm.of(row, data), entry_forms(row, data)

    def do() -> str:
        kept = tuple(each.entry() for each in entries if not each.cleaned_data["is_gone"] and not each.is_empty)
        made = edit_rule(
            row, actor=request.user, to=form.rule(kept), is_to_be_checked=form.cleaned_data["is_to_be_checked"]
        )
        tell(request, f"“{made.name}” is kept as version {made.version}.")
        return reverse("jobs:rule", args=[made.pk])

    if data is not None and all([form.is_valid(), *(each.is_valid() for each in entries)]):
        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    status = 200 if data is None else 422
    return render(request, "jobs/rules/edit.html", {"row": row, "form": form, "entries": entries}, status=status)


def _copied(request: StaffRequest, row: RecordRule, form: NameForm) -> str:
    made = copy_rule(row, actor=request.user, name=form.cleaned_data["name"])
    tell(request, f"“{made.name}” is yours to change.")
    return reverse("jobs:edit_rule", args=[made.pk])


def _show(request: StaffRequest, row: RecordRule, form: NameForm, status: int = 200) -> HttpResponse:
    versions = RecordRule.objects.filter(key=row.key).order_by("-version")
    context = {
        "row": row,
        "rule": row.rule,
        "entries": [_told(entry) for entry in row.rule.entries],
        "versions": list(versions.select_related("made_by")),
        "chosen": current_rule(),
        "form": form,
    }
    return render(request, "jobs/rules/show.html", context, status=status)


def _told(entry: Entry) -> dict[str, object]:
    """An entry in words."""
    return {
        "entry": entry,
        "kinds": ", ".join(label for value, label in KINDS.items() if value in entry.kinds) or "Every kind of work",
        "before_key": _words(entry.before_key),
        "before_finish": _words(entry.before_finish),
        "shown": [(paper.value.replace("_", " "), _words(facts)) for paper, facts in entry.shown.items() if facts],
        "hidden": [(paper.value.replace("_", " "), _words(facts)) for paper, facts in entry.hidden.items() if facts],
    }


def _words(facts: frozenset[Fact]) -> list[str]:
    return [FACT_WORDS[fact] for fact in Fact if fact in facts]
