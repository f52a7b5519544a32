-- One row per logged set and side it worked, with the repetitions and load of that side.
-- Rows that hold no set but only pain or a note are in stg_log_remarks.
-- Drills that wake a side up or work through a range are no work that is added up; a plan may ask
-- one side alone for them. Their rows stay in raw_sets.
-- An alternating exercise logged for both sides gives half its repetitions to each; "each side" is
-- two rows already. A one-sided exercise logged for both sides was done with each. Two-sided lifts
-- keep side 'both' and never enter a comparison of sides.
-- part: what the work of a set is added up with, the part of the body; an exercise that nobody can
-- place stands by itself, because two of them may have nothing in common.
-- moved_kg: load of the set as one side moves it (of both sides together in a two-sided lift): what
-- the log says, per hand or per pair as the practice rules read it, plus the share of body mass of
-- each working side (shares from memory; see the exercise dictionary). An unknown body mass is the
-- squad's median, else 75 kg (from memory): the same on both sides, so no comparison hangs on it.
with squad_masses as (
    select squad, median(body_mass_kg) as body_mass_kg
    from stg_athletes
    group by all
),

sets as (
    select
        sets.*,
        athletes.squad,
        coalesce(athletes.body_mass_kg, squad_masses.body_mass_kg, 75.0) as body_mass_kg,
        coalesce(exercises.laterality, if(sets.side = 'both', 'bilateral', 'unilateral'))
            as laterality,
        exercises.name as exercise_name,
        coalesce(exercises.pattern, 'other') as pattern,
        coalesce(exercises.type, 'other') as type,
        coalesce(exercises.equipment, 'other') as equipment,
        coalesce(exercises.region, 'other') as region,
        coalesce(exercises.region, 'other:' || sets.exercise) as part,
        coalesce(exercises.body_mass_share, 0.0) as body_mass_share,
        coalesce(exercises.load_factor_both, 1.0) as load_factor_both,
        coalesce(exercises.load_factor_side, 1.0) as load_factor_side
    from raw_sets as sets
    left join ref_exercises as exercises on sets.exercise = exercises.exercise
    left join stg_athletes as athletes on sets.athlete_id = athletes.athlete_id
    left join squad_masses on athletes.squad = squad_masses.squad
    left join ref_drills as drills on sets.exercise = drills.drill
    where sets.reps is not null and drills.drill is null
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
    part,
    set_number,
    worked_side as side,
    worked_reps as reps,
    load_kg,
    if(
        worked_side = 'both',
        load_factor_both * coalesce(load_kg, 0) + 2 * body_mass_share * body_mass_kg,
        load_factor_side * coalesce(load_kg, 0) + body_mass_share * body_mass_kg
    ) as moved_kg,
    exercise_order,
    rir,
    tempo,
    pain,
    note,
    order_file,
    order_line,
    source_file,
    source_sheet,
    source_line
from worked
