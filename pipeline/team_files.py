"""Text files a team writes itself, its settings or a language, as editors save them.

Standard library only: a build that has nothing to do reads them, too.
"""

import codecs
from pathlib import Path

UTF_16 = (codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE)


def text_of(path: Path) -> str:
    """The text of a file in UTF-8, with or without a byte order mark, or in UTF-16 with one.

    Lines end in a line feed, whatever they end in on the disk. Raises OSError where there is no
    such file, UnicodeDecodeError where it is in another encoding.
    """
    is_utf_16 = path.read_bytes().startswith(UTF_16)
    return path.read_text(encoding="utf-16" if is_utf_16 else "utf-8-sig")
