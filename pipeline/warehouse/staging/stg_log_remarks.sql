-- One row per row of the training log, and side it names, that holds pain or a note; those without
-- a set, too: what was not done because it hurt still hurt.
select
    athletes.squad,
    sets.athlete_id,
    sets.trained_on,
    sets.exercise,
    sets.side,
    sets.pain,
    sets.note,
    sets.source_file,
    sets.source_sheet,
    sets.source_line
from raw_sets as sets
left join stg_athletes as athletes on sets.athlete_id = athletes.athlete_id
where sets.pain is not null or sets.note is not null
