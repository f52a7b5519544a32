"""What a coach does not train although it stands out."""

from collections.abc import Mapping, Sequence
from typing import Any

from pipeline.catalogue import Catalogue
from schemas.vocabulary import MeasureGroup, Sureness

Row = Mapping[str, Any]
STRENGTH = (MeasureGroup.STRENGTH, MeasureGroup.MUSCULAR_ENDURANCE, MeasureGroup.TRAINING_RECORD)


def trains(row: Row, found: Sequence[Row], book: Catalogue) -> bool:
    """Whether work is planned for this difference, seen beside the athlete's others.

    Standing with eyes closed is too noisy alone: another test of that part has to have the same
    side lower and be sure enough to be shown. Size is left alone where strength of the same part
    was tested and is even.
    """
    group = book.coaching.group_of(book.measures[row["measure"]], book.exercises)
    if not group.is_trained:
        return False
    near = [
        one for one in found if one["region"] == row["region"] and one["measure"] != row["measure"]
    ]
    agreeing = [
        one
        for one in near
        if one["lower_side"] == row["lower_side"] and one["sureness"] != Sureness.NOT_SHOWN
    ]
    if group.needs_second:
        return bool(agreeing)
    if group.needs_strength:
        muscles = {*book.measures[row["measure"]].muscles}
        strength = [
            one
            for one in near
            if one["measure_group"] in STRENGTH
            and muscles & {*book.measures[one["measure"]].muscles}
        ]
        return not strength or any(one in agreeing for one in strength)
    return True
