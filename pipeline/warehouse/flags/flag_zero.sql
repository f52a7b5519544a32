-- One row per athlete and test whose latest day has a side of zeros only, and the other has not.
-- A zero has no logarithm, so such a day is in no estimate; the largest difference there can be
-- must not be the one that nobody hears of. A row without a value is no trial.
with day_means as (
    select
        trials.squad,
        trials.athlete_id,
        trials.measure,
        trials.tested_on,
        avg(trials.value order by trials.value) filter (trials.side = 'left') as left_value,
        avg(trials.value order by trials.value) filter (trials.side = 'right') as right_value
    from stg_trials as trials
    join ref_measures as measures on trials.measure = measures.measure
    where
        not trials.held
        and trials.side != 'both'
        and measures.scale = 'log'
        and trials.value is not null
    group by all
),

days as (
    select
        *,
        left_value is not null and right_value is not null
        and least(left_value, right_value) = 0 and greatest(left_value, right_value) > 0 as is_zero
    from day_means
),

runs as (
    select
        *,
        max(tested_on) over point as last_tested_on,
        max(tested_on) filter (not is_zero) over point as clear_on
    from days
    window point as (partition by athlete_id, measure)
)

select
    squad,
    athlete_id,
    measure as topic,
    measure,
    arg_max(if(left_value = 0, 'left', 'right'), tested_on) as lower_side,
    arg_max(greatest(left_value, right_value), tested_on) as other_value,
    last_tested_on as tested_on,
    min(tested_on) as first_flagged_on
from runs
where is_zero and (clear_on is null or tested_on > clear_on)
group by all
