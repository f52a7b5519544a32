-- One row per trial of a measure that others are computed from, with its number within the day and
-- side. A row without a value is no trial: it stands for its pain and note alone. A table of its own: numbering and what comes after it never hold memory together.
select
    athlete_id,
    tested_on,
    measure,
    side,
    row_number() over (partition by athlete_id, tested_on, measure, side order by trial)
        as attempt,
    value,
    pain,
    held,
    source_file,
    source_sheet,
    source_line
from raw_trials
where measure in (select part from ref_parts) and value is not null
