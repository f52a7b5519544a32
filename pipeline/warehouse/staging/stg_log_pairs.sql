-- One row per pair of sets, left and right, of one exercise and session that can be compared.
-- Sets pair up in the order in which each side did them. They compare where both sides carried a
-- load without pain and the repetitions up to failure (done, plus in reserve where both sides say
-- so) are few enough and differ by at most one. Estimated one-repetition maximum: the mean of
-- Epley 1985, w(1 + r/30), and Brzycki 1993, 36w/(37 - r) (years from memory; they meet at ten
-- repetitions). A single repetition is the load itself.
-- left_step, right_step: logarithm of what the next load would have moved over what was moved. The
-- next load is the coarsest usual step away of which both loads are whole multiples, to 50 g; loads
-- of none count as of the finest.
with sided as (
    select
        sets.*,
        exercises.load_factor_side,
        'est_1rm:' || sets.exercise as measure,
        row_number() over (
            partition by sets.athlete_id, sets.trained_on, sets.exercise, sets.side
            order by sets.set_number, sets.source_file, sets.source_sheet, sets.source_line
        ) as place
    from stg_sets as sets
    join ref_measures as measures on 'est_1rm:' || sets.exercise = measures.measure
    join ref_exercises as exercises on sets.exercise = exercises.exercise
    where sets.side in ('left', 'right') and sets.load_kg > 0 and sets.reps >= 1
),

pairs as (
    select
        left_side.squad,
        left_side.athlete_id,
        left_side.trained_on,
        left_side.exercise,
        left_side.measure,
        left_side.place,
        left_side.moved_kg as left_kg,
        right_side.moved_kg as right_kg,
        left_side.load_kg as left_load_kg,
        right_side.load_kg as right_load_kg,
        left_side.load_factor_side,
        left_side.reps + if(right_side.rir is null, 0, coalesce(left_side.rir, 0)) as left_reps,
        right_side.reps + if(left_side.rir is null, 0, coalesce(right_side.rir, 0)) as right_reps,
        greatest(left_side.rir, right_side.rir) as rir,
        greatest(left_side.pain, right_side.pain) as pain,
        left_side.source_file,
        left_side.source_sheet,
        left_side.source_line,
        right_side.source_file as right_source_file,
        right_side.source_sheet as right_source_sheet,
        right_side.source_line as right_source_line
    from sided as left_side
    join sided as right_side
        on
            left_side.athlete_id = right_side.athlete_id
            and left_side.trained_on = right_side.trained_on
            and left_side.exercise = right_side.exercise
            and left_side.place = right_side.place
            and left_side.side = 'left'
            and right_side.side = 'right'
),

steps as (
    select
        loads.left_load_kg,
        loads.right_load_kg,
        coalesce(
            max(steps.step_kg) filter (
                abs(loads.left_load_kg - steps.step_kg * round(loads.left_load_kg / steps.step_kg))
                <= 0.05
                and abs(
                    loads.right_load_kg - steps.step_kg * round(loads.right_load_kg / steps.step_kg)
                ) <= 0.05
            ),
            min(steps.step_kg)
        ) as step_kg
    from (select distinct left_load_kg, right_load_kg from pairs) as loads
    cross join ref_load_steps as steps
    group by all
)

select
    pairs.squad,
    pairs.athlete_id,
    pairs.trained_on,
    pairs.exercise,
    pairs.measure,
    pairs.place,
    pairs.left_kg,
    pairs.right_kg,
    pairs.left_reps,
    pairs.right_reps,
    if(
        pairs.left_reps = 1, pairs.left_kg, pairs.left_kg * (1 + pairs.left_reps / 30)
    ) as left_epley_kg,
    if(
        pairs.right_reps = 1, pairs.right_kg, pairs.right_kg * (1 + pairs.right_reps / 30)
    ) as right_epley_kg,
    pairs.left_kg * 36 / (37 - pairs.left_reps) as left_brzycki_kg,
    pairs.right_kg * 36 / (37 - pairs.right_reps) as right_brzycki_kg,
    pairs.left_kg = pairs.right_kg as is_equal_load,
    pairs.left_load_kg,
    pairs.right_load_kg,
    ln(1 + pairs.load_factor_side * steps.step_kg / pairs.left_kg) as left_step,
    ln(1 + pairs.load_factor_side * steps.step_kg / pairs.right_kg) as right_step,
    pairs.source_file,
    pairs.source_sheet,
    pairs.source_line,
    pairs.right_source_file,
    pairs.right_source_sheet,
    pairs.right_source_line
from pairs
join steps
    on
        pairs.left_load_kg = steps.left_load_kg
        and pairs.right_load_kg = steps.right_load_kg
cross join ref_log_rules as rules
where
    coalesce(pairs.pain, 0) = 0
    and coalesce(pairs.rir, 0) <= rules.max_rir
    and greatest(pairs.left_reps, pairs.right_reps) <= rules.max_reps
    and abs(pairs.left_reps - pairs.right_reps) <= rules.reps_apart
