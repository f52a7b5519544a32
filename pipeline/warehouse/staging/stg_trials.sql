-- One row per trial and side, measured, derived or from the training log, with its score on the
-- scale of the estimate.
-- score: the logarithm of the value for ratio measures, the value in the difference's unit for the
-- others, turned round where lower is better; so right minus left is positive where the right side
-- performed better. A zero has no logarithm: its score is null and it counts as untested. A row
-- without a value is no trial and has no score: its pain and its note are all it tells.
-- step: how far beyond its score a trial may lie, as loads come in steps; zero where they do not.
with trials as (
    select * exclude (value_given, unit_given), false as is_derived from raw_trials
    union all by name
    select *, true as is_derived from stg_derived_trials
    union all by name
    select *, true as is_derived from stg_log_strength
)

select
    athletes.squad,
    trials.athlete_id,
    trials.measure,
    trials.tested_on,
    trials.side,
    trials.trial,
    trials.value,
    trials.factor,
    case
        when measures.scale = 'difference' then measures.direction * trials.value * trials.factor
        when trials.value > 0 then measures.direction * ln(trials.value)
    end as score,
    coalesce(trials.step, 0.0) as step,
    trials.pain,
    trials.note,
    trials.held,
    trials.is_derived,
    athletes.shapes and coalesce(trials.pain, 0) = 0 as shapes,
    trials.source_file,
    trials.source_sheet,
    trials.source_line
from trials
left join ref_measures as measures on trials.measure = measures.measure
left join stg_athletes as athletes on trials.athlete_id = athletes.athlete_id
