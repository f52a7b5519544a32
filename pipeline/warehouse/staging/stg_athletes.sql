-- One row per athlete of the roster, with what decides how the athlete is compared.
-- shapes: whether the athlete's tests may shape what is usual in the squad. A known structural
-- difference, or anything but full availability, is scored against the squad without shaping it.
select
    athlete_id,
    name,
    squad,
    sex,
    birth_date,
    height_cm,
    body_mass_kg,
    dominant_hand,
    dominant_foot,
    position,
    coalesce(availability, 'full') as availability,
    known_difference,
    known_side,
    known_since,
    left_limb_length_cm,
    right_limb_length_cm,
    grew_cm,
    known_difference is null and coalesce(availability, 'full') = 'full' as shapes,
    source_file,
    source_sheet,
    source_line
from raw_roster
