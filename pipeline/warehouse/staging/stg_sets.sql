-- One row per logged set and side it worked, with the repetitions and load of that side.
-- An alternating exercise logged for both sides gives half its repetitions to each. A one-sided
-- exercise logged for both sides was done with each. Two-sided lifts keep side 'both' and never
-- enter a comparison of sides. Load of a bodyweight exercise: what was added plus the share of
-- body mass that the side moves (shares from memory; see the exercise dictionary).
with sets as (
    select
        sets.*,
        athletes.squad,
        athletes.body_mass_kg,
        coalesce(exercises.laterality, if(sets.side = 'both', 'bilateral', 'unilateral'))
            as laterality,
        exercises.name as exercise_name,
        coalesce(exercises.pattern, 'other') as pattern,
        coalesce(exercises.type, 'other') as type,
        coalesce(exercises.equipment, 'other') as equipment,
        coalesce(exercises.region, 'other') as region,
        coalesce(exercises.body_mass_share, 0.0) as body_mass_share
    from raw_sets as sets
    left join ref_exercises as exercises on sets.exercise = exercises.exercise
    left join stg_athletes as athletes on sets.athlete_id = athletes.athlete_id
),

worked as (
    select *, side as worked_side, reps as worked_reps
    from sets
    where side != 'both' or laterality = 'bilateral'
    union all
    select
        sets.*,
        sides.side as worked_side,
        if(sets.laterality = 'alternating', sets.reps / 2, sets.reps) as worked_reps
    from sets
    cross join (values ('left'), ('right')) as sides (side)
    where sets.side = 'both' and sets.laterality != 'bilateral'
)

select
    squad,
    athlete_id,
    trained_on,
    date_trunc('week', trained_on)::date as week_on,
    exercise,
    coalesce(exercise_name, replace(exercise, '_', ' ')) as exercise_name,
    known_exercise,
    laterality,
    pattern,
    type,
    equipment,
    region,
    set_number,
    worked_side as side,
    worked_reps as reps,
    load_kg,
    coalesce(load_kg, 0) + body_mass_share * coalesce(body_mass_kg, 0) as moved_kg,
    exercise_order,
    rir,
    tempo,
    pain,
    note,
    source_file,
    source_sheet,
    source_line
from worked
