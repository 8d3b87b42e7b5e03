"""Forms of jobs, one for each action; each cleans what was typed to what the action wants."""

from jobs.forms.booking import BookForm, MoveForm
from jobs.forms.closing import CloseForm, NoteForm
from jobs.forms.facts import JobFactsForm
from jobs.forms.finding import FindForm
from jobs.forms.times import TimesForm

__all__ = ["BookForm", "CloseForm", "FindForm", "JobFactsForm", "MoveForm", "NoteForm", "TimesForm"]
