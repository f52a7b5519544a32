"""Commands: the one place where an error becomes a message and an exit status."""

import argparse
import io
import os
import signal
import sys
from datetime import date
from pathlib import Path
from typing import Any

from pipeline.errors import ASKED, STOPS, SquadsidesError
from pipeline.folders import check_apart
from pipeline.last_build import LastBuild, Request, inputs_digest
from pipeline.last_lines import Summary
from pipeline.version import NAME, VERSION

BUILT, MENDABLE, WRONG_ARGUMENTS, REFUSED_ROWS, UNMADE = 0, 1, 2, 3, 4


def main(arguments: list[str] | None = None) -> int:
    """Run one command and return its exit status."""
    options = _parser().parse_args(arguments)
    # Nothing here depends on it, but libraries stop where it is no number.
    os.environ.pop("SOURCE_DATE_EPOCH", None)
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):  # a path may hold bytes that are no letters
            stream.reconfigure(errors="backslashreplace")
    _count_stops()
    try:
        return int(options.command(options))
    except (Exception, KeyboardInterrupt) as error:
        # A library at work when Ctrl-C comes may pass it on as an error of its own.
        if STOPS or isinstance(error, KeyboardInterrupt):
            print("squadsides: stopped; the earlier reports are untouched.", file=sys.stderr)
        elif isinstance(error, SquadsidesError):
            print(f"squadsides: {error}", file=sys.stderr)
        else:
            raise
        return MENDABLE


def _count_stops() -> None:
    """Have `STOPS` grow with each signal that asks to stop; all of them do what Ctrl-C does."""
    STOPS.clear()

    def stop(number: int, _: object) -> None:
        STOPS.append(number)
        raise KeyboardInterrupt

    # Where whoever started this process has one of them ignored, it stays ignored.
    for number in ASKED:
        if signal.getsignal(number) in (signal.default_int_handler, signal.SIG_DFL):
            signal.signal(number, stop)
    _let_stops_come_again()


def _let_stops_come_again() -> None:
    """Have a stop come once more where Python drops it, as in the clean-up of any object."""
    told = sys.unraisablehook

    def dropped(unraisable: Any) -> None:
        if unraisable.exc_type is not KeyboardInterrupt or not STOPS:
            told(unraisable)
            return
        from threading import Timer, main_thread

        build = main_thread().ident
        assert build is not None
        Timer(0.01, signal.pthread_kill, (build, STOPS[-1])).start()

    sys.unraisablehook = dropped


class _Help(argparse.HelpFormatter):
    """Help as wide as the window; asking for that itself, argparse imports every compressor."""

    def __init__(self, prog: str) -> None:
        try:
            columns = os.get_terminal_size().columns
        except OSError:
            columns = 0
        super().__init__(prog, width=(columns or 80) - 2)


class _Parser(argparse.ArgumentParser):
    def __init__(self, **options: Any) -> None:
        super().__init__(formatter_class=_Help, **options)


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog=NAME if Path(sys.argv[0]).stem == NAME else "python -m pipeline",
        description="Left and right, with how sure each difference is: exports in, reports out.",
    )
    parser.add_argument("--version", action="version", version=f"{NAME} {VERSION}")
    commands = parser.add_subparsers(required=True, metavar="COMMAND")

    build = commands.add_parser("build", help="read the exports and write the reports folder")
    _exports(build)
    build.add_argument("--reports", type=Path, required=True, metavar="DIR")
    build.add_argument(
        "--as-of", type=_day, metavar="YYYY-MM-DD", help="default: the newest date in the data"
    )
    build.add_argument("--workers", type=_count, default=min(8, os.cpu_count() or 1), metavar="N")
    build.add_argument("--skip-pdf", action="store_true", help="write all but the PDFs")
    build.add_argument(
        "--strict", action="store_true", help="exit with status 3 where any row was refused"
    )
    build.add_argument(
        "--pseudonyms", action="store_true", help="codes for whatever was typed: to share"
    )
    build.add_argument(
        "--new-codes", action="store_true", help="with --pseudonyms: other codes than before"
    )
    build.add_argument("--timings", action="store_true", help="print how long each step took")
    build.add_argument(
        "--cluster", metavar="ADDRESS", help="a dask scheduler whose workers render the pages"
    )
    build.set_defaults(command=_build)

    check = commands.add_parser("check", help="read and validate only; write nothing")
    _exports(check)
    check.set_defaults(command=_check)

    forget = commands.add_parser("forget", help="take a person out of reports and later builds")
    _exports(forget)
    forget.add_argument("--reports", type=Path, required=True, metavar="DIR")
    forget.add_argument("athlete", metavar="ATHLETE")
    forget.set_defaults(command=_forget)

    doctor = commands.add_parser("doctor", help="check this machine and say how to mend it")
    _exports(doctor)
    doctor.add_argument("--reports", type=Path, required=True, metavar="DIR")
    doctor.set_defaults(command=_doctor)

    templates = commands.add_parser("templates", help="write blank workbooks for every export")
    templates.add_argument("folder", type=Path, metavar="DIR")
    templates.set_defaults(command=_templates)

    explain = commands.add_parser("explain", help="show how one figure came about")
    explain.add_argument("--reports", type=Path, required=True, metavar="DIR")
    explain.add_argument("athlete", metavar="ATHLETE")
    explain.add_argument("measure", metavar="MEASURE")
    explain.set_defaults(command=_explain)
    return parser


def _exports(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--exports", type=Path, required=True, metavar="DIR")
    parser.add_argument("--settings", type=Path, metavar="FILE", help="a TOML file")


def _day(text: str) -> date:
    return date.fromisoformat(text)


_day.__name__ = "day (YYYY-MM-DD)"


def _count(text: str) -> int:
    number = int(text)
    if number < 1:
        raise ValueError
    return number


_count.__name__ = "number of workers (1 or more)"


def _build(options: argparse.Namespace) -> int:
    check_apart(options.exports, options.reports)
    if options.pseudonyms and options.exports.is_dir():
        from pipeline.intake.privacy.pseudonyms import code_key

        code_key(options.exports, new=options.new_codes)  # before the folder is looked at
    inputs = inputs_digest(options.exports, options.settings, pseudonyms=options.pseudonyms)
    asked = Request(inputs, options.as_of, not options.skip_pdf, options.pseudonyms)
    last = LastBuild.read(options.reports)
    if last and last.stands(options.reports, asked):
        summary = last.summary
        print("Nothing has changed since the last build; the reports stay as they are.")
    else:
        summary = _made(options, asked)
    print(*summary.lines(options.reports), sep="\n")
    if options.strict and summary.rows_refused:
        return REFUSED_ROWS
    return UNMADE if summary.unmade else BUILT


def _made(options: argparse.Namespace, asked: Request) -> Summary:
    os.umask(0o077)  # health data: what a build writes is its owner's alone
    if not (options.skip_pdf or options.cluster):
        from pipeline.report.pdf.workers import start_early

        start_early()
    from pipeline.build import build
    from pipeline.commands.console import ConsoleProgress
    from pipeline.report.pdf.render import collect_seldom
    from pipeline.settings import read_settings

    collect_seldom()
    settings = read_settings(options.settings)
    with ConsoleProgress() as progress:
        summary = build(
            options.exports,
            options.reports,
            settings,
            progress,
            asked,
            options.cluster or options.workers,
        )
    if options.timings:
        progress.print_timings()
    for remark in progress.remarks:
        print(remark)
    return summary


def _forget(options: argparse.Namespace) -> int:
    from pipeline.commands.console import ConsoleProgress
    from pipeline.commands.forget import forget
    from pipeline.settings import read_settings

    check_apart(options.exports, options.reports)
    os.umask(0o077)
    settings = read_settings(options.settings)
    with ConsoleProgress() as progress:
        lines = forget(options.exports, options.reports, settings, progress, options.athlete)
    print(*lines, sep="\n")
    made = LastBuild.read(options.reports)
    if made is None or not made.summary.unmade:
        return BUILT
    print(*made.summary.unmade_lines(options.reports), sep="\n")
    return UNMADE


def _doctor(options: argparse.Namespace) -> int:
    from pipeline.commands.doctor import examine

    findings = examine(options.exports, options.reports, options.settings)
    for found, mend in findings:
        print(f"{'mend' if mend else 'ok':>4}  {found}" + (f": {mend}" if mend else ""))
    return MENDABLE if any(mend for _, mend in findings) else BUILT


def _check(options: argparse.Namespace) -> int:
    from pipeline.commands.console import print_intake
    from pipeline.intake import read_exports
    from pipeline.settings import read_settings
    from pipeline.warehouse.parts import squads_of

    settings = read_settings(options.settings)
    intake = read_exports(options.exports, settings)
    print_intake(intake)
    for told in settings.unanswered(intake.file_names, squads_of(intake.roster)):
        print(told)
    return BUILT


def _templates(options: argparse.Namespace) -> int:
    from pipeline.report.outputs.templates import write_templates

    written, kept = write_templates(options.folder)
    for name in kept:
        print(f"{options.folder / name} is there already; it stays as it is.")
    if written:
        print(f"Written into {options.folder}: {', '.join(written)}.")
    print(
        "Fill in what you have (a roster and one file of tests are enough), put the files into the "
        "exports folder and run `make`."
    )
    return BUILT


def _explain(options: argparse.Namespace) -> int:
    from pipeline.commands.explain import print_explanation

    print_explanation(options.reports, options.athlete, options.measure)
    return BUILT


if __name__ == "__main__":
    sys.exit(main())
