"""The page in place of one that could not be made.

It rests on nothing that may have failed: of the data it shows a name, a squad and the day.
"""

from dataclasses import replace
from datetime import date

from pipeline.report.page_models import UnmadePage
from pipeline.report.text import words
from pipeline.report.text.phrases import language, say
from pipeline.settings import ReportSettings

LETTERS = 80  # of a name or a line of the settings; more could need a second page


def unmade_report(
    name: str, squad: str, as_of: date, report: ReportSettings, file: str
) -> UnmadePage:
    """In place of an athlete's report; `file` says why there is none."""
    spoken = language(report.language)
    spoken.speak()
    told = {"squad": _plain(squad), "day": words.day(as_of)}
    contact = _plain(report.medical_contact) or say("medical_contact")
    return UnmadePage(
        language=spoken,
        header=_plain(report.header),
        title=_plain(name),
        under=say("athlete.under", **told),
        footer=say("athlete.footer", name=_plain(name), **told),
        opening=say("unmade.report"),
        lines=(
            say("unmade.report_next"),
            say("athlete.next.stop", contact=contact),
            say("unmade.file", file=_printable(file)),
        ),
    )


def unmade_pack(squad: str, as_of: date, report: ReportSettings, file: str) -> UnmadePage:
    """In place of a squad's pack; `file` says why there is none."""
    language(report.language).speak()
    told = {"squad": _plain(squad)}
    return _of_squad(
        say("pack.title", **told),
        say("pack.footer", day=words.day(as_of), **told),
        (say("unmade.pack"), say("unmade.pack_next")),
        as_of, report, file,
    )  # fmt: skip


def unmade_reference(squad: str, as_of: date, report: ReportSettings, file: str) -> UnmadePage:
    """In place of a squad's reference; `file` says why there is none."""
    language(report.language).speak()
    told = {"squad": _plain(squad)}
    return _of_squad(
        say("reference.title", **told),
        say("reference.footer", day=words.day(as_of), **told),
        (say("unmade.reference"), say("unmade.reference_next")),
        as_of, report, file,
    )  # fmt: skip


def _of_squad(
    title: str,
    footer: str,
    texts: tuple[str, str],
    as_of: date,
    report: ReportSettings,
    file: str,
) -> UnmadePage:
    return UnmadePage(
        language=language(report.language),
        header=_plain(report.header),
        title=title,
        under=words.day(as_of),
        footer=footer,
        opening=texts[0],
        lines=(texts[1], say("unmade.file", file=_printable(file))),
    )


def unmade_sheet(squad: str, as_of: date, report: ReportSettings, file: str) -> UnmadePage:
    """In place of a sheet to fill in; `file` says why there is none."""
    pack = unmade_pack(squad, as_of, report, file)
    lines = (say("unmade.file", file=_printable(file)),)
    return replace(pack, title=_plain(squad), opening=say("unmade.sheet"), lines=lines)


def _plain(text: str) -> str:
    return words.cut(_printable(text), LETTERS)


def _printable(text: str) -> str:
    """A text in one line, without whatever may disturb a page."""
    return "".join(letter if letter.isprintable() else " " for letter in text)
