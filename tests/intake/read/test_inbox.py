from pathlib import Path

from pipeline.intake.read.inbox import list_exports, natural_key, read_entry


def test_week_2_stands_before_week_10_and_case_does_not_matter() -> None:
    names = ["week_10.csv", "Week_2.csv", "week_1.csv", "a.csv", "week_2b.csv"]
    assert sorted(names, key=natural_key) == [
        "a.csv", "week_1.csv", "Week_2.csv", "week_2b.csv", "week_10.csv",
    ]  # fmt: skip


def test_accents_sort_alike_however_the_system_writes_them() -> None:
    composed, decomposed = "\u00e9.csv", "e\u0301.csv"
    assert natural_key(composed)[:-1] == natural_key(decomposed)[:-1]


def test_entries_are_listed_in_natural_order(tmp_path: Path) -> None:
    for name in ("b10.csv", "b9.csv", "~$b9.csv", ".hidden"):
        (tmp_path / name).write_text("x")
    assert [entry.name for entry in list_exports(tmp_path)] == ["b9.csv", "b10.csv"]


def test_the_digest_is_that_of_the_bytes(tmp_path: Path) -> None:
    path = tmp_path / "a.csv"
    path.write_bytes(b"abc")
    # FIPS 180-2, appendix B.1: the message "abc".
    assert read_entry(path).digest() == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )
