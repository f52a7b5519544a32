-- One row per athlete, measure and day on which both sides were tested.
-- d: mean score right minus mean score left; positive where the right side performed better.
-- The best trials stand beside the means, from the same number of trials on each side, because
-- the best of more trials is better without any difference between the sides.
with uneven_days as (
    select
        athlete_id,
        measure,
        tested_on,
        min(trial_count) as common_trial_count
    from mart_side_values
    group by all
    having min(trial_count) < max(trial_count)
),

counted as (
    select
        trials.athlete_id,
        trials.measure,
        trials.tested_on,
        trials.side,
        trials.value,
        uneven_days.common_trial_count,
        row_number() over (
            partition by trials.athlete_id, trials.measure, trials.tested_on, trials.side
            order by trials.trial
        ) as place
    from stg_trials as trials
    join uneven_days
        on
            trials.athlete_id = uneven_days.athlete_id
            and trials.measure = uneven_days.measure
            and trials.tested_on = uneven_days.tested_on
    where not trials.held and trials.score is not null
),

best_values as (
    select
        counted.athlete_id,
        counted.measure,
        counted.tested_on,
        counted.side,
        case any_value(measures.better)
            when 'higher' then max(counted.value)
            when 'lower' then min(counted.value)
            else avg(counted.value order by counted.value)
        end as best_value
    from counted
    left join ref_measures as measures on counted.measure = measures.measure
    where counted.place <= counted.common_trial_count
    group by all
)

select
    left_side.squad,
    left_side.athlete_id,
    left_side.measure,
    left_side.tested_on,
    left_side.trial_count as left_trial_count,
    right_side.trial_count as right_trial_count,
    left_side.mean_value as left_value,
    right_side.mean_value as right_value,
    coalesce(left_best.best_value, left_side.best_value) as left_best_value,
    coalesce(right_best.best_value, right_side.best_value) as right_best_value,
    right_side.mean_score - left_side.mean_score as d,
    greatest(left_side.pain, right_side.pain) as pain,
    left_side.shapes and right_side.shapes as shapes
from mart_side_values as left_side
join mart_side_values as right_side
    on
        left_side.athlete_id = right_side.athlete_id
        and left_side.measure = right_side.measure
        and left_side.tested_on = right_side.tested_on
        and left_side.side = 'left'
        and right_side.side = 'right'
left join best_values as left_best
    on
        left_side.athlete_id = left_best.athlete_id
        and left_side.measure = left_best.measure
        and left_side.tested_on = left_best.tested_on
        and left_best.side = 'left'
left join best_values as right_best
    on
        left_side.athlete_id = right_best.athlete_id
        and left_side.measure = right_best.measure
        and left_side.tested_on = right_best.tested_on
        and right_best.side = 'right'
