"""Every closed set of words that `say_of` speaks: which words have a sentence under which key.

A language file is held against this table when it loads: each word has its sentence, and no
sentence stands there for a word that is none.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cache

from pipeline.catalogue import catalogue, full_catalogue
from pipeline.catalogue.story_rules import WHOLE_LEG
from schemas.plan_words import (
    CountedIn,
    FastWork,
    FilmView,
    HeldLoad,
    Plan,
    PlanNote,
    PlanReason,
    Stage,
    StepPart,
    TestReason,
)
from schemas.vocabulary import (
    CAN_BE_LATE,
    NORMAL_STEP,
    Asked,
    Availability,
    Became,
    Decision,
    Export,
    Formula,
    Limb,
    LowerSide,
    MeasureGroup,
    Region,
    Side,
    Status,
    Sureness,
    Turn,
    Urgency,
    WorkedSide,
)

SILENT = (Turn.OVERDUE, Turn.WAITING)  # nothing to talk about beyond a line of the list
TALKED_ABOUT = (Plan.TRAIN, Plan.MOBILITY, Plan.EVEN, Plan.DONE, Plan.STOP)  # blocks of a meeting


@dataclass(frozen=True)
class SaidSet:
    """The words of one key; `apart`: those that it does not say, with what is in its place."""

    words: tuple[str, ...]
    apart: Mapping[str, str]

    @property
    def said(self) -> tuple[str, ...]:
        """The words that need a sentence."""
        return tuple(word for word in self.words if word not in self.apart)


@cache
def said_sets() -> Mapping[str, SaidSet]:
    """Key -> its words; ids come from the catalogue, all else from the vocabulary."""
    book = catalogue()
    steps = [str(step) for step in range(1, NORMAL_STEP)]
    units = {
        unit
        for measure in full_catalogue().measures.values()
        for unit in (measure.unit, measure.difference_unit)
    }
    qualities = book.stories.qualities
    return {
        "agenda.decided": _set(
            Decision,
            {
                Decision.CLEARED: "with its step",
                Decision.TRAIN: "the block says it",
                Decision.DONE: "ends at once",
            },
        ),
        "agenda.fast": _set(FastWork),
        "agenda.late": _set(CAN_BE_LATE),
        "agenda.return": _set(steps),
        "agenda.return_up": _set(steps),
        "agenda.section": _set(Turn, {Turn.ACCEPTED: "a table of its own"}),
        "agenda.section_note": _set(Turn, {Turn.ACCEPTED: "a table of its own"}),
        "agenda.sign": _set(book.rules.signs),
        "agenda.suggestion.refer": _set(Urgency),
        "card.because": _set(
            PlanReason,
            _alike("the plan says it", PlanReason.FLAG, PlanReason.KNOWN, PlanReason.DECIDED),
        ),
        "card.fast": _set(FastWork),
        "card.held": _set(HeldLoad),
        "card.limb": _set(Limb),
        "card.no_days": _set(
            Plan, _alike("with its figures", *(set(Plan) - {Plan.WAIT, Plan.NONE}))
        ),
        "card.note": _set(
            PlanNote, _alike("with its side", PlanNote.OTHER_DOES_MORE, PlanNote.NO_FIT)
        ),
        "card.part": _set(StepPart),
        "card.return_up": _set(steps),
        "card.unit": _set(CountedIn, _alike("the bare number", CountedIn.REPS, CountedIn.CONTACTS)),
        "card.view": _set(FilmView),
        "cards.decide": _set(Turn, _alike("a line of the list says all", *SILENT, Turn.ACCEPTED)),
        "cards.no_block": _set(Plan, {Plan.RETURN: "with its step"}),
        "decided.became": _set(Became),
        "intake.kind": _set(Export),
        "pack.availability": _set(Availability, {Availability.FULL: "nothing to say"}),
        "pack.fell": _set(Side),
        "pack.formula": _set(Formula, {Formula.ABS_DIFF: "with its unit"}),
        "pack.group": _set(MeasureGroup, {MeasureGroup.PARTS: "no page shows them"}),
        "pack.lower": _set(LowerSide, {LowerSide.EVEN: "no letter"}),
        "sheet.tests.because": _set(TestReason),
        "side": _set([*WorkedSide, *LowerSide]),
        "story.apart": _set(qualities),
        "story.name": _set([*qualities, WHOLE_LEG]),
        "today.standing": _set(Status, {Status.ACCEPTED: "a table of its own"}),
        "training.plans.kind": _set(
            Plan, _alike("no line of the table", *(set(Plan) - {*TALKED_ABOUT}))
        ),
        "training.plans.stage": _set(Stage),
        "training.work.part": _set(Region),
        "unit": _set(sorted(units)),
        "unread.decision": _set(
            Asked,
            _alike("with its own words", *(set(Asked) - {Asked.ON_REFER, Asked.NOTE_DIFFERS})),
        ),
        "words.chance": _set(Sureness),
        "words.work": _set(Region),
    }


def _set(words: Iterable[str], apart: Mapping[str, str] | None = None) -> SaidSet:
    return SaidSet(tuple(dict.fromkeys(words)), apart or {})


def _alike(why: str, *words: str) -> dict[str, str]:
    return dict.fromkeys(words, why)


def faults(keys: Iterable[str]) -> dict[str, set[str]]:
    """Keys of sentences that these lack for a word, and those that stand for none."""
    sets, given = said_sets(), set(keys)
    wanted = {f"{start}.{word}" for start, one in sets.items() for word in one.said}
    known = {f"{start}.{word}" for start, one in sets.items() for word in one.words}
    strange = {key for key in given for start in sets if key.startswith(f"{start}.")} - known
    return {"missing": wanted - given, "for no word of the vocabulary": strange}
