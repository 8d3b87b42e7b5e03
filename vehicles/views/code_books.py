"""Taking code books in, and keeping them."""

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell, tell_refused
from shop.once import once
from shop.staff.access import StaffRequest, office, owner
from vehicles.actions.code_books import (
    begin_code_book,
    delete_code_rows,
    put_aside_code_book,
    switch_code_book,
    take_in_code_book,
)
from vehicles.drawing import draw_key
from vehicles.key_forms import CodeBookForm
from vehicles.models import CodeBook, CodeBookImport


@office
@require_http_methods(["GET", "POST"])
def add(request: StaffRequest) -> HttpResponse:
    form = CodeBookForm(request.POST or None, request.FILES or None)
    if request.method == "POST" and form.is_valid():
        facts = dict(form.cleaned_data)
        sheet, replaces = facts.pop("key_system"), facts.pop("replaces")
        name = facts.pop("file").name or ""

        def do() -> str:
            made = begin_code_book(
                actor=request.user,
                key_system=sheet,
                content=form.content(),
                file_name=name,
                facts=facts,
                replaces=replaces,
            )
            return reverse("vehicles:code_book_import", args=[made.pk])

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    waiting = CodeBookImport.objects.filter(book=None).select_related("person").defer("content").order_by("-asked_at")
    return render_form(request, "vehicles/keys/add_book.html", {"form": form, "waiting": waiting[:10]})


@office
@require_safe
def code_book_import(request: StaffRequest, pk: int) -> HttpResponse:
    """How far a file is, and what was found in it; the same fragment answers the page's polling."""
    found = CodeBookImport.objects.select_related("key_system", "book").defer("content")
    made = get_object_or_404(found, pk=pk)
    system = made.key_system.system
    rows = [
        (code, labels, draw_key(system, labels, with_locks=False, with_ladder=False)) for code, labels in _rows(made)
    ]
    context = {"made": made, "rows": rows, "unlisted": _unlisted(made)}
    template = "vehicles/keys/_book_import.html" if request.htmx else "vehicles/keys/book_import.html"  # type: ignore[attr-defined]
    return render(request, template, context)


def _rows(made: CodeBookImport) -> list[tuple[str, list[str]]]:
    return [] if made.is_under_way else made.findings.get("rows", [])[:4]


def _unlisted(made: CodeBookImport) -> int:
    return int(made.findings.get("wrong", 0)) - len(made.findings.get("faults", []))


@office
@require_POST
def take_in(request: StaffRequest, pk: int) -> HttpResponse:
    made = get_object_or_404(CodeBookImport.objects.defer("content"), pk=pk)

    def do() -> str:
        take_in_code_book(made, actor=request.user)
        return reverse("vehicles:code_book_import", args=[pk])

    try:
        return see(request, once(request, do))
    except Refused as refused:
        tell_refused(request, str(refused))
        return see(request, reverse("vehicles:code_book_import", args=[pk]))


@office
@require_POST
def put_aside(request: StaffRequest, pk: int) -> HttpResponse:
    made = get_object_or_404(CodeBookImport.objects.defer("content"), pk=pk)

    def do() -> str:
        put_aside_code_book(made, actor=request.user)
        tell(request, "The file is put aside. Nothing of it was taken in.")
        return reverse("vehicles:add_code_book")

    return see(request, once(request, do))


@office
@require_safe
def code_book(request: StaffRequest, pk: int) -> HttpResponse:
    book = get_object_or_404(CodeBook.objects.select_related("key_system", "imported_by"), pk=pk)
    return render(request, "vehicles/keys/book.html", {"book": book, "look_count": book.looks.count()})


@office
@require_POST
def switch(request: StaffRequest, pk: int, on: bool) -> HttpResponse:
    book = get_object_or_404(CodeBook, pk=pk)

    def do() -> str:
        switch_code_book(book, actor=request.user, on=on)
        back = reverse("vehicles:code_book_off" if on else "vehicles:code_book_on", args=[pk])
        tell(request, f"{book.name} is {'in use' if on else 'out of use'}.", undo=back)
        return reverse("vehicles:code_book", args=[pk])

    return see(request, once(request, do))


@owner
@require_POST
def delete_rows(request: StaffRequest, pk: int) -> HttpResponse:
    book = get_object_or_404(CodeBook, pk=pk)

    def do() -> str:
        delete_code_rows(book, actor=request.user)
        tell(request, f"The codes of {book.name} are deleted.")
        return reverse("vehicles:code_book", args=[pk])

    return see(request, once(request, do))
