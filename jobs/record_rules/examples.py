"""The rules that come with the program: facts of three statutes as read in public copies, and a plain default.

A shop checks its own law with its licensing authority. Where the law as read names no time of keeping, the time is the
shop's own choice and the entry cites nothing for it.
"""

from jobs.record_rules.facts import Fact, Paper, Thing
from jobs.record_rules.rule import Entry, ExceptionKind, Rule, RuleException, Span

PLAIN = "plain"

# Kinds of work by which a key comes into being.
KEY_MAKING = frozenset({"duplicate_key", "all_keys_lost", "programming", "broken_key", "ignition_lock"})
OPENING = frozenset({"lock_out"})
COPYING = frozenset({"duplicate_key"})

_LOCKSMITH = frozenset({Fact.SERVED_ON, Fact.LOCKSMITH, Fact.LOCKSMITH_LICENCE})


def _california() -> Rule:
    """Bus. & Prof. Code 6980.53 and 6980.55."""
    citation = "Cal. Bus. & Prof. Code 6980.53, 6980.55"
    for_vehicle = frozenset({Fact.NAME, Fact.BORN_ON, Fact.DOCUMENT_NUMBER, Fact.VEHICLE_ID, Fact.SIGNATURE})
    for_building = frozenset(
        {Fact.NAME, Fact.ADDRESS, Fact.PHONE, Fact.BORN_ON, Fact.DOCUMENT_NUMBER, Fact.PLACE, Fact.SIGNATURE}
    )
    return Rule(
        name="California",
        place="California, United States",
        citation=citation,
        entries=(
            Entry(
                thing=Thing.VEHICLE,
                kinds=KEY_MAKING,
                before_key=for_vehicle,
                before_finish=_LOCKSMITH,
                shown={Paper.WORK_ORDER: for_vehicle | _LOCKSMITH},
                kept=Span(years=2),
                citation=citation,
            ),
            Entry(
                thing=Thing.BUILDING,
                kinds=OPENING,
                before_key=for_building,
                before_finish=_LOCKSMITH,
                shown={Paper.WORK_ORDER: for_building | _LOCKSMITH},
                kept=Span(years=2),
                citation=citation,
            ),
            *(Entry(thing, COPYING, before_key=frozenset({Fact.KEY_NOT_MARKED}), citation=citation) for thing in Thing),
        ),
        kept_otherwise=Span(years=2),
    )


def _maryland() -> Rule:
    """Bus. Reg. 12.5-301 to 303, and the labor department's page of minimum content."""
    citation = "Md. Code, Bus. Reg. 12.5-301 to 12.5-303"
    of_call = frozenset({Fact.PLACE, Fact.LOCK_TYPE})
    of_vehicle = of_call | {Fact.VIN}
    return Rule(
        name="Maryland",
        place="Maryland, United States",
        citation=citation,
        entries=tuple(
            Entry(
                thing=thing,
                before_finish=facts | {Fact.LOCKSMITH_LICENCE, Fact.PRICE_TOLD},
                shown={
                    Paper.WORK_ORDER: facts | {Fact.LOCKSMITH_LICENCE},
                    Paper.INVOICE: frozenset({Fact.LOCKSMITH_LICENCE, Fact.PRICE_TOLD, Fact.PRICE_PAID}),
                },
                kept=Span(years=3),
                citation=citation,
            )
            for thing, facts in ((Thing.VEHICLE, of_vehicle), (Thing.BUILDING, of_call))
        ),
        kept_otherwise=Span(years=3),
        answer_by_post=5,
        answer_electronically=2,
        in_business_days=True,
    )


def _texas() -> Rule:
    """Bus. & Com. Code on customer authorization and receipts; Occ. Code 1702."""
    citation = "Tex. Bus. & Com. Code (customer authorization, receipts); Tex. Occ. Code 1702"
    authorised = frozenset({Fact.NAME, Fact.DOCUMENT_KIND, Fact.SIGNATURE})
    confirmed = frozenset({Fact.CONFIRMED_HOW})
    number = frozenset({Fact.DOCUMENT_NUMBER})
    return Rule(
        name="Texas",
        place="Texas, United States",
        citation=citation,
        entries=tuple(
            Entry(
                thing=thing,
                before_key=authorised | confirmed,
                shown={Paper.WORK_ORDER: confirmed | {Fact.SIGNATURE, Fact.DOCUMENT_KIND}},
                hidden=dict.fromkeys((Paper.WORK_ORDER, Paper.RECEIPT, Paper.INVOICE), number),
                citation=citation,
            )
            for thing in Thing
        ),
        kept_otherwise=Span(years=2),
        exceptions=(RuleException(ExceptionKind.DANGER, citation),),
    )


def _plain() -> Rule:
    """What a careful shop writes down where no law is set: common practice, no source."""
    person = frozenset({Fact.NAME, Fact.DOCUMENT_KIND, Fact.RELATIONSHIP, Fact.PAPERS, Fact.SIGNATURE})
    return Rule(
        name="Plain default",
        place="",
        citation="",
        entries=(
            Entry(
                thing=Thing.VEHICLE,
                kinds=KEY_MAKING,
                before_key=person | {Fact.VIN_MATCH},
                shown={Paper.WORK_ORDER: frozenset({Fact.SIGNATURE})},
            ),
        ),
        kept_otherwise=Span(years=2),
        exceptions=(RuleException(ExceptionKind.DANGER),),
    )


# By the name under which the database keeps every version of it.
EXAMPLES: dict[str, Rule] = {
    PLAIN: _plain(),
    "california": _california(),
    "maryland": _maryland(),
    "texas": _texas(),
}
