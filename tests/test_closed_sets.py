"""Words of TOML that are held to the vocabulary: a stranger is named with its place."""

import tomllib
from typing import Any

import pytest

from pipeline.catalogue import loading
from pipeline.catalogue.closed_sets import entry, word, words
from pipeline.catalogue.coaching import Checkpoint
from pipeline.catalogue.entries import Lead
from pipeline.errors import SquadsidesError
from schemas import columns
from schemas.catalogue_words import LeadBy
from schemas.plan_words import FilmView, PlanReason
from schemas.vocabulary import Region


def test_words_become_members_and_lists_become_tuples() -> None:
    made = entry(
        Checkpoint,
        "checkpoints.toml: knee",
        {"id": "knee", "views": ["front", "side"], "ok": "over the toes", "adjust": "inside"},
    )
    assert made.views == (FilmView.FRONT, FilmView.SIDE)
    assert all(isinstance(view, FilmView) for view in made.views)
    lead = {"by": "hand", "right_dominant": 1.0, "left_dominant": 0.5, "source": "S1"}
    assert isinstance(entry(Lead, "hop.toml: lead", lead).by, LeadBy)


@pytest.mark.parametrize(
    ("views", "told"),
    [
        (["front", "below"], r"^knee: views: 'below' is not one of front, side, behind, above\.$"),
        ([["front"]], r"^knee: views: \['front'\] is not one of front"),
    ],
)
def test_a_word_its_set_does_not_hold_is_named(views: list[Any], told: str) -> None:
    given = {"id": "knee", "views": views, "ok": "over the toes", "adjust": "inside"}
    with pytest.raises(SquadsidesError, match=told):
        entry(Checkpoint, "knee", given)


def test_a_key_that_is_misspelt_is_no_word() -> None:
    with pytest.raises(TypeError, match="view"):
        entry(Checkpoint, "knee", {"id": "knee", "view": ["front"], "ok": "a", "adjust": "b"})


def test_a_blank_is_no_word_unless_its_set_holds_it() -> None:
    assert words(Region, "regions", ["lower", "upper"]) == (Region.LOWER, Region.UPPER)
    assert word(PlanReason, "why", "") is PlanReason.FLAG
    with pytest.raises(SquadsidesError, match=r"^regions: '' is not one of lower, upper, trunk\.$"):
        words(Region, "regions", [""])


@pytest.mark.parametrize(
    ("file", "was", "now", "told"),
    [
        (
            "measures/hop.toml",
            'region = "lower"',
            'region = "leg"',
            r"hop\.toml: \w+: region: 'leg'",
        ),
        (
            "rules.toml",
            'urgency = "emergency"',
            'urgency = "now"',
            r"rules\.toml: \w+: urgency: 'now'",
        ),
        ("rules.toml", "[decision.train]", "[decision.drill]", r"rules\.toml: decision: 'drill'"),
        ("columns.toml", "[words.sex]\nfemale", "[words.sex]\ngirls", r"words\.sex: 'girls'"),
        ("columns.toml", "[film_review]", "[video]", r"columns\.toml: 'video'"),
        ("stories.toml", 'limb = "arm"', 'limb = "wing"', r"stories\.toml: \w+: limb: 'wing'"),
        (
            "test_day.toml",
            'effort = "calm"',
            'effort = "easy"',
            r"test_day\.toml: \w+: effort: 'easy'",
        ),
        (
            "training/drills.toml",
            'kind = "mobility"',
            'kind = "yoga"',
            r"drills\.toml: \w+: kind: 'yoga'",
        ),
    ],
)
def test_the_catalogue_is_held_to_the_vocabulary_when_it_loads(
    monkeypatch: pytest.MonkeyPatch, file: str, was: str, now: str, told: str
) -> None:
    text = (loading.SCHEMAS / file).read_text(encoding="utf-8")
    assert was in text
    read = loading._table

    def changed(name: str) -> dict[str, Any]:
        return tomllib.loads(text.replace(was, now, 1)) if name == file else read(name)

    monkeypatch.setattr(loading, "_table", changed)
    monkeypatch.setattr(columns, "TABLE", changed("columns.toml"))
    with pytest.raises(SquadsidesError, match=told):
        for load in (loading.measures_by_id, loading.rules, loading.test_day, loading.coaching):
            load()
        loading.story_rules(())
        loading.headers(str)
