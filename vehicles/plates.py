"""Number plates, as they are compared: capitals and digits alone."""

import unicodedata


def search_form(text: str) -> str:
    """`ab-12 cd` as `AB12CD`: letters and digits in capitals, nothing else, so that every way of spacing is found."""
    plain = unicodedata.normalize("NFKC", text).upper()
    return "".join(char for char in plain if char.isalnum())
