"""Key systems from and to CSV files."""

from django.http import HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from shop.errors import Refused
from shop.http import render_form, see, tell
from shop.once import once
from shop.staff.access import StaffRequest, office
from vehicles.actions import import_key_systems
from vehicles.csv_text import BadFile
from vehicles.key_forms import FileForm
from vehicles.key_sheets.table import COLUMNS, SheetRow, read_table, write_table
from vehicles.models import KeySystemSheet
from vehicles.views.key_systems import sample_drawing


@office
@require_safe
def export(request: StaffRequest) -> HttpResponse:
    """All key systems in one CSV file, which the import reads back to equal systems."""
    sheets = KeySystemSheet.objects.in_order()
    text = write_table((sheet.system, sheet.source, sheet.notes) for sheet in sheets)
    response = HttpResponse("\ufeff" + text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = f'attachment; filename="key-systems-{timezone.localdate():%Y-%m-%d}.csv"'
    return response


@office
@require_http_methods(["GET", "POST"])
def bring_in(request: StaffRequest) -> HttpResponse:
    """A file is looked through first; the same file sent with `take` is taken in."""
    form = FileForm(request.POST or None, request.FILES or None)
    context = {"form": form, "columns": COLUMNS}
    if request.method != "POST" or not form.is_valid():
        return render_form(request, "vehicles/keys/import_systems.html", context)
    try:
        rows = _told(read_table(form.content()))
    except BadFile as error:
        form.add_error("file", str(error))
        return render_form(request, "vehicles/keys/import_systems.html", context)
    wrong = [(row.line, row.fault) for row in rows if row.fault]
    if request.POST.get("take") and rows and not wrong:

        def do() -> str:
            made = import_key_systems(actor=request.user, rows=rows)
            tell(request, f"{len(made)} key system{'s' if len(made) != 1 else ''} taken in.")
            return reverse("vehicles:key_systems")

        try:
            return see(request, once(request, do))
        except Refused as refused:
            form.refuse(refused)
    good = [(row, sample_drawing(row.system, plain=True)) for row in rows if row.system][:12]
    context |= {"rows": rows, "wrong": wrong[:200], "wrong_count": len(wrong), "good": good}
    context["good_count"] = len(rows) - len(wrong)
    return render_form(request, "vehicles/keys/import_systems.html", context)


def _told(rows: list[SheetRow]) -> list[SheetRow]:
    """Names that the shop has already are faults of their rows."""
    taken = {name.casefold() for name in KeySystemSheet.objects.values_list("name", flat=True)}
    return [
        SheetRow(row.line, fault=f"There is already a key system called {row.system.name}.")
        if row.system and row.system.name.casefold() in taken
        else row
        for row in rows
    ]
