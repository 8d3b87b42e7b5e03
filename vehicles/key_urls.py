"""Addresses of key systems, code books and the workbench. Cuts and codes stand in none of them."""

from django.urls import path

from vehicles.views import (
    code_books,
    code_looks,
    cutting_cards,
    key_system_files,
    key_system_form,
    key_systems,
    workbench,
)

key_patterns = [
    path("key-systems", key_systems.key_systems, name="key_systems"),
    path("key-systems/add", key_system_form.add, name="add_key_system"),
    path("key-systems/drawing", key_system_form.drawing, name="key_system_drawing"),
    path("key-systems/import", key_system_files.bring_in, name="import_key_systems"),
    path("key-systems/export.csv", key_system_files.export, name="export_key_systems"),
    path("key-systems/<int:pk>", key_systems.key_system, name="key_system"),
    path("key-systems/<int:pk>/change", key_system_form.change, name="change_key_system"),
    path("key-systems/<int:pk>/copy", key_systems.copy, name="copy_key_system"),
    path("key-systems/<int:pk>/off", key_systems.switch, {"on": False}, name="key_system_off"),
    path("key-systems/<int:pk>/on", key_systems.switch, {"on": True}, name="key_system_on"),
    path("key-systems/<int:pk>/card", cutting_cards.card, name="cutting_card"),
    path("key-systems/<int:pk>/card/paper", cutting_cards.card_paper, name="cutting_card_paper"),
    path("code-books", code_looks.code_books, name="code_books"),
    path("code-books/code", code_looks.look_for_code, name="look_for_code"),
    path("code-books/cuts", code_looks.look_for_codes, name="look_for_codes"),
    path("code-books/looks", code_looks.looks, name="code_looks"),
    path("code-books/add", code_books.add, name="add_code_book"),
    path("code-books/imports/<int:pk>", code_books.code_book_import, name="code_book_import"),
    path("code-books/imports/<int:pk>/take-in", code_books.take_in, name="take_in_code_book"),
    path("code-books/imports/<int:pk>/put-aside", code_books.put_aside, name="put_aside_code_book"),
    path("code-books/<int:pk>", code_books.code_book, name="code_book"),
    path("code-books/<int:pk>/off", code_books.switch, {"on": False}, name="code_book_off"),
    path("code-books/<int:pk>/on", code_books.switch, {"on": True}, name="code_book_on"),
    path("code-books/<int:pk>/delete-codes", code_books.delete_rows, name="delete_code_rows"),
    path("workbench", workbench.workbench, name="workbench"),
    path("workbench/<int:pk>/decode", workbench.decode_page, name="decode"),
    path("workbench/<int:pk>/missing", workbench.missing_page, name="missing_cuts"),
    path("workbench/plans/<int:pk>", workbench.trial_plan, name="trial_plan"),
]
