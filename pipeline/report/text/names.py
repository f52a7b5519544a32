"""What a point of a meeting is about, by its name."""

from pipeline.report.text import words
from pipeline.report.text.phrases import say_of
from pipeline.review.week import Week


def name_of(measure: str | None, week: Week) -> str:
    """The short name of a measure or exercise id, or the words themselves."""
    if measure is None:
        return ""
    if measure in week.catalogue.measures:
        return week.catalogue.measures[measure].short
    if measure in week.catalogue.exercises:
        return week.catalogue.exercises[measure].name
    if measure in week.catalogue.rules.signs:
        return words.capital(sign_name(measure))
    return words.capital(measure.replace("_", " "))


def sign_name(sign: str) -> str:
    """A sign of the practice rules that somebody wrote down, such as swelling."""
    return say_of("agenda.sign", sign)
