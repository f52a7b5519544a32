"""Names and places in the reports folder."""

import re
from pathlib import Path


def safe_name(text: str) -> str:
    """A name that is a file name on every system; letters of any script stay."""
    name = re.sub(r'[\x00-\x1f<>:"/\\|?*]', "_", text).strip(" .")
    return name[:120] or "_"


def publish(new: Path, reports: Path, *, replaces_pdfs: bool) -> None:
    """Move a finished build over the last one; PDFs that belong to nobody any more go."""
    finished = [path for path in sorted(new.rglob("*")) if path.is_file()]
    for path in finished:
        target = reports / path.relative_to(new)
        target.parent.mkdir(parents=True, exist_ok=True)
        path.replace(target)
    if replaces_pdfs:
        kept = {reports / path.relative_to(new) for path in finished}
        for old in [*reports.glob("squad_*.pdf"), *reports.glob("athletes/*.pdf")]:
            if old not in kept:
                old.unlink()
