"""The family of errors that carry words fit to show a person."""


class Refused(Exception):
    """An action that the shop's rules do not allow; `str()` is fit to show, `field` names the form field if any."""

    def __init__(self, words: str, *, field: str | None = None) -> None:
        super().__init__(words)
        self.field = field
