"""A record rule as the owner edits it: facts of the rule, and for each entry a table of what is wanted where."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from django import forms
from django.http import QueryDict

from jobs.models import RecordRule
from jobs.record_rules import Entry, ExceptionKind, Fact, Moment, Paper, Rule, RuleException, Span, Thing
from jobs.record_rules.facts import FACT_WORDS
from jobs.states import KindOfWork
from shop.forms import PlainForm

# Each entry sends about a hundred fields, and Django takes in a thousand.
MOST_ENTRIES = 9
WHEN = [
    ("", "not asked"),
    (Moment.BEFORE_KEY.value, "before a key is made"),
    (Moment.BEFORE_FINISH.value, "before the finish"),
]
ON_PAPER = [("", "free"), ("shown", "shown"), ("hidden", "never")]
PAPER_WORDS = {Paper.WORK_ORDER: "Work order", Paper.INVOICE: "Invoice", Paper.RECEIPT: "Receipt"}


def _days(label: str) -> forms.IntegerField:
    box = forms.TextInput(attrs={"inputmode": "numeric", "class": "figures"})
    return forms.IntegerField(label=label, required=False, min_value=0, max_value=36_525, widget=box)


class NameForm(PlainForm):
    name = forms.CharField(label="Name", max_length=80)


class RuleForm(PlainForm):
    name = forms.CharField(label="Name", max_length=80)
    place = forms.CharField(label="Place", max_length=120, required=False)
    citation = forms.CharField(label="Statute", max_length=300, required=False)
    years = _days("Kept otherwise, years")
    days = _days("and days")
    answer_by_post = _days("Answered by post, days")
    answer_electronically = _days("Answered electronically, days")
    in_business_days = forms.BooleanField(label="Those are business days", required=False)
    names_danger = forms.BooleanField(label="The law names imminent danger as an exception", required=False)
    is_to_be_checked = forms.BooleanField(label="Check with your licensing authority", required=False)

    @classmethod
    def of(cls, row: RecordRule, data: QueryDict | None) -> "RuleForm":
        rule = row.rule
        initial = {
            "name": row.name,
            "place": row.place,
            "citation": row.citation,
            "years": rule.kept_otherwise.years,
            "days": rule.kept_otherwise.days,
            "answer_by_post": rule.answer_by_post,
            "answer_electronically": rule.answer_electronically,
            "in_business_days": rule.in_business_days,
            "names_danger": rule.names_exception(ExceptionKind.DANGER),
            "is_to_be_checked": row.is_to_be_checked,
        }
        return cls(data, initial=initial)

    def rule(self, entries: tuple[Entry, ...]) -> Rule:
        told = self.cleaned_data
        named = (RuleException(ExceptionKind.DANGER, told["citation"]),) if told["names_danger"] else ()
        return Rule(
            name=told["name"],
            place=told["place"],
            citation=told["citation"],
            entries=entries,
            kept_otherwise=Span(years=told["years"] or 0, days=told["days"] or 0),
            answer_by_post=told["answer_by_post"],
            answer_electronically=told["answer_electronically"],
            in_business_days=told["in_business_days"],
            exceptions=named,
        )


@dataclass
class FactRow:
    """One line of an entry's table: the fact and its choices."""

    words: str
    cells: list[forms.BoundField]


class EntryForm(PlainForm):
    thing = forms.ChoiceField(label="Kind of thing", choices=[(each.value, each.value.capitalize()) for each in Thing])
    kinds = forms.MultipleChoiceField(
        label="Kinds of work; none is every kind", choices=KindOfWork.choices, required=False,
        widget=forms.CheckboxSelectMultiple,
    )  # fmt: skip
    citation = forms.CharField(label="Statute", max_length=300, required=False)
    years = _days("Kept, years")
    days = _days("and days")
    is_gone = forms.BooleanField(label="Take this entry away", required=False)

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for fact in Fact:
            self.fields[f"when_{fact}"] = forms.ChoiceField(label="Recorded", choices=WHEN, required=False)
            for paper, words in PAPER_WORDS.items():
                self.fields[f"{paper}_{fact}"] = forms.ChoiceField(label=words, choices=ON_PAPER, required=False)
        for name, box in self.fields.items():
            if "_" in name and isinstance(box, forms.ChoiceField) and name != "kinds":
                box.widget.attrs["aria-label"] = f"{_fact_words(name)}: {box.label}"

    @classmethod
    def of(cls, number: int, entry: Entry | None, data: QueryDict | None) -> "EntryForm":
        return cls(data, prefix=f"e{number}", initial=_initial(entry) if entry else {})

    @property
    def rows(self) -> Iterator[FactRow]:
        for fact in Fact:
            names = [f"when_{fact}", *(f"{paper}_{fact}" for paper in PAPER_WORDS)]
            yield FactRow(FACT_WORDS[fact], [self[name] for name in names])

    @property
    def is_empty(self) -> bool:
        """Nothing is asked, shown, hidden or kept: a blank entry is no entry."""
        told = self.cleaned_data
        is_asking = any(told.get(name) for name in told if name.partition("_")[0] in {"when", *PAPER_PREFIXES})
        return not (is_asking or told.get("years") or told.get("days"))

    def entry(self) -> Entry:
        told = self.cleaned_data
        has_time = told["years"] is not None or told["days"] is not None
        return Entry(
            thing=Thing(told["thing"]),
            kinds=frozenset(told["kinds"]),
            before_key=self._facts("when", Moment.BEFORE_KEY),
            before_finish=self._facts("when", Moment.BEFORE_FINISH),
            shown={paper: facts for paper in PAPER_WORDS if (facts := self._facts(paper, "shown"))},
            hidden={paper: facts for paper in PAPER_WORDS if (facts := self._facts(paper, "hidden"))},
            kept=Span(years=told["years"] or 0, days=told["days"] or 0) if has_time else None,
            citation=told["citation"],
        )

    def _facts(self, prefix: str, answer: str) -> frozenset[Fact]:
        return frozenset(fact for fact in Fact if self.cleaned_data.get(f"{prefix}_{fact}") == answer)


PAPER_PREFIXES = {paper.value.partition("_")[0] for paper in PAPER_WORDS}


def entry_forms(row: RecordRule, data: QueryDict | None) -> list[EntryForm]:
    """One form for each entry, and one more to add another."""
    entries: list[Entry | None] = [*row.rule.entries, None]
    return [EntryForm.of(number, entry, data) for number, entry in enumerate(entries[:MOST_ENTRIES])]


def _fact_words(name: str) -> str:
    for fact in Fact:
        if name.endswith(f"_{fact}") and name.removesuffix(f"_{fact}") in {"when", *(str(p) for p in PAPER_WORDS)}:
            return FACT_WORDS[fact]
    return name


def _initial(entry: Entry) -> dict[str, Any]:
    initial: dict[str, Any] = {"thing": entry.thing.value, "kinds": sorted(entry.kinds), "citation": entry.citation}
    if entry.kept:
        initial |= {"years": entry.kept.years, "days": entry.kept.days}
    for moment, facts in ((Moment.BEFORE_FINISH, entry.before_finish), (Moment.BEFORE_KEY, entry.before_key)):
        initial |= {f"when_{fact}": moment.value for fact in facts}
    for how, papers in (("shown", entry.shown), ("hidden", entry.hidden)):
        initial |= {f"{paper}_{fact}": how for paper, facts in papers.items() for fact in facts}
    return initial
