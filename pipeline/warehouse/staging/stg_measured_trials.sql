-- One row per accepted trial and side as measured, with its number within the day and side.
select
    athletes.squad,
    trials.athlete_id,
    trials.tested_on,
    trials.measure,
    trials.side,
    trials.trial,
    row_number() over (
        partition by trials.athlete_id, trials.tested_on, trials.measure, trials.side
        order by trials.trial
    )::bigint as attempt,
    trials.value,
    trials.factor,
    trials.pain,
    trials.note,
    trials.held,
    trials.source_file,
    trials.source_sheet,
    trials.source_line
from raw_trials as trials
left join stg_athletes as athletes on trials.athlete_id = athletes.athlete_id
