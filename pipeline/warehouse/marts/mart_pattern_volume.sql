-- One row per athlete, week, movement pattern and side: sets, repetitions and volume load in kg.
-- Two-sided lifts stand under side 'both', so that they never dilute the comparison of the sides.
select
    squad,
    athlete_id,
    week_on,
    region,
    pattern,
    side,
    count(distinct trained_on) as session_count,
    count(*) as set_count,
    sum(reps order by reps) as rep_count,
    sum(reps * moved_kg order by reps * moved_kg) as volume_kg
from stg_sets
group by all
