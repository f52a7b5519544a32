import pytest

from pipeline.report.typeface import font_file


def test_no_other_file_is_given_out() -> None:
    with pytest.raises(ValueError, match="not a font of the reports"):
        font_file("../secret.ttf")
