"""What PDFs say each glyph stands for: set right for WeasyPrint 70."""

from typing import Any


def name_every_piece_of_a_letter() -> None:
    """Have WeasyPrint say of each glyph what it stands for (ISO 14289-1, 7.21.7).

    Where several draw one letter, as in Indian scripts, it says so of one and nothing of the
    others; they stand for a sign without width that joins, so that a name is found and read aloud.
    """
    from weasyprint import pdf

    build = pdf.build_fonts_dictionary

    def built(file: Any, fonts: Any, *rest: Any) -> Any:
        for font in fonts.values():
            for glyph, text in font.to_unicode.items():
                font.to_unicode[glyph] = text or "\N{WORD JOINER}"
        return build(file, fonts, *rest)

    pdf.build_fonts_dictionary = built
