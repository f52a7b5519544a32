"""Importing this gets a process ready to print; what is missing there the first page says."""

from contextlib import suppress

from pipeline.errors import SquadsidesError
from pipeline.report.pdf.render import prepare

with suppress(SquadsidesError):
    prepare()
