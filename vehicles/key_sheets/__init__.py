"""Key systems as people type them: in a form, in a CSV file. Knows nothing of Django."""

from vehicles.key_sheets.notation import BadNotation
from vehicles.key_sheets.shown import length_text, shown_length, shown_lengths
from vehicles.key_sheets.typed import build_system, typed_from

__all__ = ["BadNotation", "build_system", "length_text", "shown_length", "shown_lengths", "typed_from"]
