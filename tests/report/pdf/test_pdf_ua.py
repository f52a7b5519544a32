"""The one internal of WeasyPrint that is replaced: for this version, and while it is needed."""

import subprocess
import sys
from pathlib import Path

import pytest
import weasyprint
from outloud.model import Document

from pipeline.report.pdf.pdf_ua import WRITTEN_FOR
from tests.end_to_end.pdf_checks import unread_content

PRINT = """
import sys
import weasyprint
if sys.argv[2] == "with":
    from pipeline.report.pdf.pdf_ua import mark_margins_as_artifacts
    mark_margins_as_artifacts()
html = "<html lang='en'><title>t</title><style>@page { @bottom-left { content: 'every page' } }"
weasyprint.HTML(string=html + "</style><p>text").write_pdf(sys.argv[1], pdf_variant="pdf/ua-1")
"""


def test_the_installed_version_is_the_one_it_is_written_for() -> None:
    assert weasyprint.__version__.startswith(WRITTEN_FOR)


@pytest.mark.parametrize(("way", "faults"), [("with", []), ("without", ["page 1: 'every page'"])])
def test_a_foot_is_heard_on_every_page_without_it_alone(
    way: str, faults: list[str], tmp_path: Path
) -> None:
    """Where nothing is found without it, WeasyPrint needs it no longer: take the module out."""
    path = tmp_path / "page.pdf"
    subprocess.run([sys.executable, "-c", PRINT, path, way], check=True, timeout=60)
    document = Document(str(path))
    assert list(unread_content(document)) == faults
    document.close()
