"""The language files: complete, used, and nothing printed that does not come from one."""

import ast
import json
import re
import tomllib
from collections.abc import Iterator
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from babel import Locale

from pipeline.errors import SquadsidesError
from pipeline.last_build import inputs_digest
from pipeline.report.text import phrases, words
from pipeline.report.text.phrases import (
    CATEGORIES,
    FOLDER,
    Language,
    language,
    parsed,
    say,
    say_of,
)
from pipeline.report.text.said_sets import said_sets
from pipeline.settings import read_settings
from schemas.vocabulary import Sureness
from tests.test_architecture import texts, tree_of

ROOT = Path(__file__).parents[3]
TEXT = (FOLDER / "english.toml").read_text(encoding="utf-8")
ENGLISH = parsed(TEXT).phrases
IN_TEMPLATES = re.compile(r'\b(?:say|titles)\("([^"]+)"((?:, \w+=[\w.]+)*)\)')
LETTERS = re.compile(r"[^\W\d_]+")

PAGE_MODULES = [
    path.relative_to(ROOT / "pipeline" / "report").with_suffix("").as_posix()
    for room in ("text", "charts", "sections", "athlete", "pack", "reference")
    for path in sorted((ROOT / "pipeline" / "report" / room).glob("*.py"))
    if path.stem not in {"__init__", "phrases", "said_sets", "drawing"}  # they speak to us
]
PAGE_MODULES += ["page_models", "outputs/print_sheets", "outputs/filling_sheets"]


@pytest.fixture(autouse=True)
def _english_again() -> Iterator[None]:
    yield
    language("english").speak()


@cache
def calls() -> list[tuple[str, str, ast.Call]]:
    """Every call in the code: its module, the name of what is called, the call."""
    return [
        (path.name, getattr(node.func, "id", getattr(node.func, "attr", "")), node)
        for path in sorted(ROOT.glob("pipeline/**/*.py"))
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
    ]


def keys(node: ast.expr) -> list[str]:
    """The keys an argument may be, one literal or one of two; fails for anything put together."""
    match node:
        case ast.Constant(value=str(key)):
            return [key]
        case ast.IfExp(body=body, orelse=orelse):
            return keys(body) + keys(orelse)
    raise AssertionError(f"{ast.unparse(node)} is no literal key; words of a set take say_of")


def in_code() -> Iterator[tuple[str, str, set[str] | None]]:
    """Module, key and names of the values; no names where they are handed on in a dictionary."""
    for module, name, call in calls():
        if name not in ("say", "titles", "say_of") or module == "phrases.py":
            continue
        given = [keyword.arg for keyword in call.keywords]
        named = None if None in given else {arg for arg in given if arg}
        for key in keys(call.args[0]):
            said = (
                [f"{key}.{word}" for word in said_sets()[key].said] if name == "say_of" else [key]
            )
            yield from ((module, one, named) for one in said)


def in_templates() -> Iterator[tuple[str, str, set[str]]]:
    for path in sorted((ROOT / "report_templates").rglob("*.html")):
        text = path.read_text(encoding="utf-8")
        assert len(IN_TEMPLATES.findall(text)) == len(
            re.findall(r"\b(?:say|say_of|titles)\s*\(", text)
        )
        for key, values in IN_TEMPLATES.findall(text):
            yield path.name, key, set(re.findall(r"(\w+)=", values))


def test_every_phrase_is_used_and_every_used_one_is_there() -> None:
    used = {key for _, key, _ in [*in_code(), *in_templates()]}
    assert used == set(ENGLISH)


@pytest.mark.parametrize("key", ['f"side.{side}"', '"side." + side', "key", '"side.{}".format(1)'])
def test_a_key_that_is_put_together_would_be_noticed(key: str) -> None:
    with pytest.raises(AssertionError, match="is no literal key"):
        keys(ast.parse(key, mode="eval").body)


def test_nobody_speaks_by_another_name() -> None:
    """`say` handed on or renamed would hide its keys from what is read here."""
    hidden = []
    for path in sorted(ROOT.glob("pipeline/**/*.py")):
        tree = tree_of(path)
        spoken = {
            alias.asname or alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.ImportFrom) and node.module == "pipeline.report.text.phrases"
            for alias in node.names
        } & {"say", "say_of", "titles"}
        called = {id(node.func) for node in ast.walk(tree) if isinstance(node, ast.Call)}
        hidden += [
            (path.name, node.lineno)
            for node in ast.walk(tree)
            if isinstance(node, ast.Name) and node.id in spoken and id(node) not in called
        ]
    assert hidden == []


def test_every_set_is_spoken_of() -> None:
    spoken = {key for _, name, call in calls() if name == "say_of" for key in keys(call.args[0])}
    assert spoken == set(said_sets())


def test_what_stands_apart_is_a_word_of_its_set_and_says_why() -> None:
    for key, one in said_sets().items():
        assert set(one.apart) < set(one.words), key
        assert all(one.apart.values()), key


def test_a_word_that_no_set_holds_cannot_be_said() -> None:
    with pytest.raises(KeyError, match=r"side\.inside"):
        say_of("side", "inside")


def test_every_value_has_its_placeholder() -> None:
    wrong = [
        (place, key)
        for place, key, named in [*in_code(), *in_templates()]
        if named is not None and named != ENGLISH[key].names
    ]
    assert wrong == []


def test_no_template_holds_a_word_of_its_own() -> None:
    for path in (ROOT / "report_templates").rglob("*.html"):
        text = re.sub(r"<style>.*?</style>", "", path.read_text(encoding="utf-8"))
        shown = re.sub(r"{%.*?%}|{{.*?}}|<[^>]*>", " ", text)
        assert LETTERS.findall(shown) == [], path.name


def test_no_page_module_holds_a_sentence_of_its_own() -> None:
    """Also where no page of the sample would show it; codes and the typeface are no sentences."""
    allowed = {"lower first", "lower only", "Source Sans 3"}
    allowed.add("the sentences of the flag {}")  # at the keyboard, where they could not be made
    allowed.add("{}: the next test day")  # the same
    found = {
        (name, text)
        for name in PAGE_MODULES
        for text in texts(tree_of(ROOT / "pipeline" / "report" / f"{name}.py"))
        if re.search(r"[a-z]{2,}[,;:.]? [a-z({]", text, re.IGNORECASE) and text not in allowed
    }
    assert found == set()


def test_a_wrong_value_is_noticed_where_it_is_said() -> None:
    with pytest.raises(ValueError, match=r"card\.line\.only takes \['side'\], got \['sides'\]"):
        say("card.line.only", sides="left")


def test_a_counted_phrase_has_its_forms() -> None:
    assert [say("count.file", count=n) for n in (0, 1, 2)] == ["no files", "1 file", "2 files"]
    others = [say("athlete.opening.others", count=n) for n in (1, 2)]
    assert others == [
        "One other difference stands out, too.",
        "2 other differences stand out, too.",
    ]


def written(table: dict[str, Any], above: str = "") -> str:
    """A table of texts as TOML, one dotted key a line."""
    lines = []
    for name, entry in table.items():
        key = f"{above}{json.dumps(name)}"
        if isinstance(entry, dict):
            lines.append(written(entry, f"{key}."))
        else:
            lines.append(f"{key} = {json.dumps(entry)}")
    return "\n".join(lines)


def marked(entry: Any) -> Any:
    """Every word of an entry in brackets, its placeholders as they are."""
    if isinstance(entry, dict):
        return {name: marked(part) for name, part in entry.items()}
    if isinstance(entry, list):
        return [marked(part) for part in entry]
    parts = re.split(r"(\{\w+\})", entry)
    return "".join(p if p.startswith("{") else LETTERS.sub(r"⟦\g<0>⟧", p) for p in parts)


# The bracketed language has the months, lists, decimal comma and plural forms of Lithuanian, whose
# words are none of English.
ELSEWHERE = "lt"


def inflected(entry: Any) -> Any:
    """An entry with the forms that a counted phrase has in Lithuanian."""
    if not isinstance(entry, dict):
        return entry
    if "other" in entry and entry.keys() <= CATEGORIES:
        return entry | {"few": entry["other"], "many": entry["other"]}
    return {name: inflected(part) for name, part in entry.items()}


@pytest.fixture(scope="session")
def bracketed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A language in which every word stands in brackets, but for those of its locale."""
    path = tmp_path_factory.mktemp("language") / "bracketed.toml"
    table = {**inflected(marked(tomllib.loads(TEXT))), "locale": ELSEWHERE}
    path.write_text(written(table), encoding="utf-8")
    return path


def locale_words() -> list[str]:
    """Months and weekdays of the bracketed language, what joins a list, and its code."""
    spoken = Locale.parse(ELSEWHERE)
    names = [
        name
        for table in (spoken.months, spoken.days)
        for form in ("format", "stand-alone")
        for width in ("wide", "abbreviated")
        for name in table[form][width].values()
    ]
    return [*names, spoken.list_patterns["standard"]["2"].format("", ""), ELSEWHERE]


def test_another_language_is_spoken_from_where_it_is_chosen(bracketed: Path) -> None:
    language(str(bracketed)).speak()
    assert words.day(date(2026, 3, 2)) == "2\xa0kovo\xa02026"
    assert words.amount(-3.14, "cm") == "−3,1\xa0⟦cm⟧"
    assert words.level(1234.5, "kg", 1234.5) == "1\xa0234,5"
    assert words.sureness(Sureness.VERY_SURE, 0.97) == "⟦very⟧ ⟦sure⟧, ⟦about⟧ 97 ⟦in⟧\xa0100."
    language("english").speak()
    assert words.amount(-3.14, "cm") == "−3.1\xa0cm"


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda t: t["side"].pop("left"), r"missing: side\.left\.$"),
        (lambda t: t["card"].update(colour="red"), r"not known: card\.colour\.$"),
        (lambda t: t["card"].update(title="Next weeks"), r"than in English: card\.title\.$"),
        (lambda t: t["card"].update(title="{numbers}"), r"than in English: card\.title\.$"),
        (lambda t: t["season"]["errors"]["head"].pop(), r"in English: season\.errors\.head\.$"),
        (lambda t: t["count"]["file"].pop("one"), r"for its locale: count\.file \(one\)\.$"),
        (
            lambda t: t.update(locale="pl"),
            r"plural forms for its locale: .*count\.file \(few, many\), .*$",
        ),
        (lambda t: t["count"].update(file="files {count}"), r"than in English: count\.file\.$"),
        (
            lambda t: (t["side"].pop("left"), t["unit"].pop("cm"), t["card"].update(colour="red")),
            r"missing: side\.left, unit\.cm; not known: card\.colour\.$",
        ),
    ],
)
def test_half_a_translation_is_not_spoken(tmp_path: Path, change: Any, told: str) -> None:
    table = tomllib.loads(TEXT)
    change(table)
    (tmp_path / "half.toml").write_text(written(table), encoding="utf-8")
    with pytest.raises(SquadsidesError, match=told):
        language(str(tmp_path / "half.toml"))


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            lambda t: t["side"].pop("left"),
            r"english\.toml is not complete\. missing: side\.left\.$",
        ),
        (
            lambda t: t["today"].update({"standing.lost": "lost"}),
            r"for no word of the vocabulary: today\.standing\.lost\.$",
        ),
        (
            lambda t: (t["agenda"]["sign"].pop("nerve"), t["unit"].update(ell="ell")),
            r"missing: agenda\.sign\.nerve; for no word of the vocabulary: unit\.ell\.$",
        ),
    ],
)
def test_english_itself_is_held_against_the_vocabulary(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, change: Any, told: str
) -> None:
    table = tomllib.loads(TEXT)
    change(table)
    (tmp_path / "english.toml").write_text(written(table), encoding="utf-8")
    monkeypatch.setattr(phrases, "FOLDER", tmp_path)
    with pytest.raises(SquadsidesError, match=told):
        language.__wrapped__("english")


def test_a_language_nobody_wrote_is_named_with_those_there_are() -> None:
    with pytest.raises(SquadsidesError, match=r"no language klingon; known: .*english"):
        language("klingon")


POLISH = """
locale = "pl"
count.file.zero = "bez plików"
count.file.one = "{count} plik"
count.file.few = "{count} pliki"
count.file.many = "{count} plików"
count.file.other = "{count} pliku"
count.set.one = "{count} seria"
count.set.few = "{count} serie"
count.set.many = "{count} serii"
count.set.other = "{count} serii"
"""


def test_a_language_has_the_plural_forms_marks_and_lists_of_its_locale() -> None:
    """The forms of Polish by CLDR: 1, then 2 to 4 and 22, then 5 to 21 and none."""
    Language(POLISH).speak()
    forms = {1: "plik", 2: "pliki", 5: "plików", 12: "plików", 22: "pliki", 25: "plików"}
    for count, word in forms.items():
        assert say("count.file", count=count) == f"{count} {word}"
    assert (say("count.file", count=0), say("count.set", count=0)) == ("bez plików", "0 serii")
    assert words.listed(["a", "b", "c"]) == "a, b i c"
    assert words.marked("3.1") == "3,1"
    assert (words.month(12), words.weekday(0)) == ("grudzień", "poniedziałek")


@pytest.mark.parametrize(
    "text",
    ['locale = "en', 'locale = "en"\na = "{"', 'a = "b"', "locale = 1", 'locale = "klingon"'],
)
def test_a_file_that_cannot_be_read_says_so(tmp_path: Path, text: str) -> None:
    (tmp_path / "broken.toml").write_text(text, encoding="utf-8")
    with pytest.raises(SquadsidesError, match=r"language file broken\.toml cannot be read"):
        language(str(tmp_path / "broken.toml"))


def test_a_changed_language_file_asks_for_a_new_build(tmp_path: Path, bracketed: Path) -> None:
    file, settings = tmp_path / "own.toml", tmp_path / "settings.toml"
    settings.write_text(f"[report]\nlanguage = {json.dumps(str(file))}\n", encoding="utf-8")
    assert read_settings(settings).report.language == str(file)
    file.write_text(TEXT, encoding="utf-8")
    before = inputs_digest(tmp_path / "exports", settings)
    assert inputs_digest(tmp_path / "exports", settings) == before
    file.write_text(TEXT + "\n", encoding="utf-8")
    assert inputs_digest(tmp_path / "exports", settings) != before
