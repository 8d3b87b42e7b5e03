"""Record rules are chosen, copied and edited. An edit makes a new version; what was recorded keeps the old one."""

from datetime import datetime
from uuid import uuid4

from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.models import RecordRule, RuleChoice
from jobs.record_rules import BadRule, Rule, check_rule
from shop.errors import Refused
from shop.staff.models import Person


@transaction.atomic
def choose_rule(rule: RecordRule, *, actor: Person | None, at: datetime | None = None) -> RuleChoice:
    """The shop follows this version from now on."""
    return RuleChoice.objects.create(rule=rule, chosen_by=actor, chosen_at=at or timezone.now())


@transaction.atomic
def copy_rule(rule: RecordRule, *, actor: Person, name: str) -> RecordRule:
    """A rule of the shop's own, beginning as a copy. Raises Refused for a name that is missing or taken."""
    return RecordRule.objects.create(
        key=str(uuid4()),
        name=_free_name(name),
        place=rule.place,
        citation=rule.citation,
        is_to_be_checked=rule.is_to_be_checked,
        data=rule.data,
        made_by=actor,
    )


@transaction.atomic
def edit_rule(rule: RecordRule, *, actor: Person, to: Rule, is_to_be_checked: bool = True) -> RecordRule:
    """The next version of a rule of the shop's own; the shop follows it at once where it followed the last.

    Raises Refused for a rule that came with the program (copy it first), one that contradicts itself, and when
    somebody else made the next version meanwhile.
    """
    if rule.is_shipped:
        raise Refused("This rule came with the program. Copy it, and change the copy.")
    try:
        check_rule(to)
    except BadRule as bad:
        raise Refused(" ".join(bad.words)) from None
    if (to.name, to.place, to.citation, to.to_json()) == (rule.name, rule.place, rule.citation, rule.data) and (
        rule.is_to_be_checked == is_to_be_checked
    ):
        return rule
    is_followed = RecordRule.objects.chosen() == rule
    if to.name != rule.name:
        _free_name(to.name)
    try:
        with transaction.atomic():
            made = RecordRule.objects.create(
                key=rule.key,
                version=rule.version + 1,
                name=to.name.strip(),
                place=to.place.strip(),
                citation=to.citation.strip(),
                is_to_be_checked=is_to_be_checked,
                data=to.to_json(),
                made_by=actor,
            )
    except IntegrityError:
        raise Refused("Somebody changed this rule meanwhile. Load the page anew.") from None
    if is_followed:
        choose_rule(made, actor=actor)
    return made


def _free_name(name: str) -> str:
    plain = " ".join(name.split())
    if not plain:
        raise Refused("Give the rule a name.", field="name")
    if RecordRule.objects.newest().filter(name__iexact=plain).exists():
        raise Refused("Another rule has this name already.", field="name")
    return plain
