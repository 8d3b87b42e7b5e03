"""What the technician's phone shows: the round of a day, and one visit."""

from jobs.round.load import Round, load_round
from jobs.round.page import VisitPage, load_visit_page

__all__ = ["Round", "VisitPage", "load_round", "load_visit_page"]
