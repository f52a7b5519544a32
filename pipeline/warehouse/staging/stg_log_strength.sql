-- One row per athlete, exercise, training day and side: one-repetition maximum from the log, the
-- mean over the comparable sets of that day. One value a day, because sets of one day share a
-- load and so repeat each other. For the same reason a plateau, days in a row with the same
-- heaviest loads, is one value however long it lasts: that of its first day, which no later session
-- changes. Exercises with one load by design are left out.
-- step: how far the value may be exceeded without the next load, as a logarithm.
with days as (
    select
        athlete_id,
        exercise,
        trained_on,
        max(left_load_kg) as left_load_kg,
        max(right_load_kg) as right_load_kg
    from stg_log_pairs
    group by all
),

first_days as (
    select athlete_id, exercise, trained_on
    from days
    qualify
        (left_load_kg, right_load_kg) is distinct from lag((left_load_kg, right_load_kg)) over (
            partition by athlete_id, exercise order by trained_on
        )
),

pairs as (
    select pairs.*
    from stg_log_pairs as pairs
    join mart_log_loads as loads
        on pairs.athlete_id = loads.athlete_id and pairs.exercise = loads.exercise
    join first_days
        on
            pairs.athlete_id = first_days.athlete_id
            and pairs.exercise = first_days.exercise
            and pairs.trained_on = first_days.trained_on
    where not loads.is_by_design
),

sides as (
    select
        athlete_id,
        trained_on,
        measure,
        'left' as side,
        place,
        (left_epley_kg + left_brzycki_kg) / 2 as value,
        left_step as step,
        source_file,
        source_sheet,
        source_line
    from pairs
    union all
    select
        athlete_id,
        trained_on,
        measure,
        'right' as side,
        place,
        (right_epley_kg + right_brzycki_kg) / 2 as value,
        right_step as step,
        right_source_file,
        right_source_sheet,
        right_source_line
    from pairs
)

select
    athlete_id,
    trained_on as tested_on,
    measure,
    side,
    1::bigint as trial,
    avg(value order by value) as value,
    avg(step order by step) as step,
    1.0::double as factor,
    null::double as pain,
    null::varchar as note,
    false as held,
    arg_min(source_file, place) as source_file,
    arg_min(source_sheet, place) as source_sheet,
    arg_min(source_line, place) as source_line
from sides
group by all
