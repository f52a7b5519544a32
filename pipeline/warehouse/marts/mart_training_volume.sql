-- One row per athlete, week, exercise and side: sets, repetitions and volume load in kg.
-- Volume load is the sum of repetitions times load. Side 'both' holds two-sided lifts.
select
    squad,
    athlete_id,
    week_on,
    exercise,
    exercise_name,
    pattern,
    type,
    region,
    laterality,
    side,
    count(distinct trained_on) as session_count,
    count(*) as set_count,
    sum(reps order by reps) as rep_count,
    sum(reps * moved_kg order by reps * moved_kg) as volume_kg
from stg_sets
group by all
