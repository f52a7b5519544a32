"""What PDF/UA asks for and WeasyPrint does not do yet: its one internal that is replaced.

Written for WeasyPrint 70. A test stops when another version is installed, and when WeasyPrint does
without this module what it is for: then it goes.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

WRITTEN_FOR = "70."  # how the version of WeasyPrint begins


def mark_margins_as_artifacts() -> None:
    """Have WeasyPrint mark what repeats on every page as artifacts: nobody hears it each time.

    It tags them as content and leaves them out of the tree of tags (ISO 14289-1, 7.1 and 7.8).
    """
    from pydyf import Dictionary
    from weasyprint.formatting_structure.boxes import MarginBox
    from weasyprint.pdf import tags
    from weasyprint.pdf.stream import Stream

    mark, build = Stream.marked, tags._build_box_tree

    @contextmanager
    def marked(stream: Any, box: Any, tag: str) -> Iterator[None]:
        if box.element is not None:
            with mark(stream, box, tag):
                yield
            return
        stream.begin_marked_content("Artifact", Dictionary({"Type": "/Pagination"}))
        yield
        stream.end_marked_content()

    def tree(box: Any, *rest: Any) -> Iterator[Any]:
        if not isinstance(box, MarginBox):
            yield from build(box, *rest)

    Stream.marked, tags._build_box_tree = marked, tree
