-- One row per athlete, week, muscle group and side: sets, repetitions and volume load in kg.
-- A set counts once for every muscle group its exercise names, so muscle groups do not add up.
with worked as (
    select
        sets.squad,
        sets.athlete_id,
        sets.week_on,
        unnest(string_split(exercises.muscles, ', ')) as muscle,
        sets.side,
        sets.trained_on,
        sets.reps,
        sets.moved_kg
    from stg_sets as sets
    join ref_exercises as exercises on sets.exercise = exercises.exercise
)

select
    squad,
    athlete_id,
    week_on,
    muscle,
    side,
    count(distinct trained_on) as session_count,
    count(*) as set_count,
    sum(reps order by reps) as rep_count,
    sum(reps * moved_kg order by reps * moved_kg) as volume_kg
from worked
group by all
