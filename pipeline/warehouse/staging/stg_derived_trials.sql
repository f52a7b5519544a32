-- One row per attempt and side of a measure computed from its parts on the same day.
-- The k-th attempt of one part meets the k-th attempt of the others; a part without sides (a sprint)
-- enters as the mean of its day. A day on which the measure itself was given is left as given.
with sided_parts as (
    select
        parts.measure,
        parts.rule,
        parts.position,
        parts.part_count,
        trials.* exclude (measure)
    from ref_parts as parts
    join stg_part_trials as trials on parts.part = trials.measure
    where trials.side in ('left', 'right') and not parts.is_whole_body
),

whole_parts as (
    select
        parts.measure,
        parts.rule,
        parts.position,
        parts.part_count,
        trials.athlete_id,
        trials.tested_on,
        avg(trials.value order by trials.value) as value
    from ref_parts as parts
    join stg_part_trials as trials on parts.part = trials.measure
    where parts.is_whole_body and not trials.held
    group by all
),

part_values as (
    select
        measure, rule, position, part_count, athlete_id, tested_on, side, attempt,
        value, pain, held, source_file, source_sheet, source_line
    from sided_parts
    union all
    select
        whole_parts.measure, whole_parts.rule, whole_parts.position, whole_parts.part_count,
        whole_parts.athlete_id, whole_parts.tested_on, sided_parts.side,
        sided_parts.attempt, whole_parts.value, null as pain, sided_parts.held,
        sided_parts.source_file, sided_parts.source_sheet, sided_parts.source_line
    from whole_parts
    join sided_parts
        on
            whole_parts.measure = sided_parts.measure
            and whole_parts.athlete_id = sided_parts.athlete_id
            and whole_parts.tested_on = sided_parts.tested_on
            and sided_parts.position = 1
),

attempts as (
    select
        measure,
        athlete_id,
        tested_on,
        side,
        attempt,
        case any_value(rule)
            when 'ratio'
                then max(value) filter (position = 1) / max(value) filter (position = 2)
            when 'subtract'
                then max(value) filter (position = 1) - max(value) filter (position = 2)
            when 'sum' then sum(value order by value)
            when 'mean' then avg(value order by value)
        end as value,
        max(pain) as pain,
        bool_or(held) as held,
        arg_min(source_file, position) as source_file,
        arg_min(source_sheet, position) as source_sheet,
        arg_min(source_line, position) as source_line
    from part_values
    group by all
    having count(distinct position) = any_value(part_count)
),

given as (
    select distinct athlete_id, tested_on, measure
    from raw_trials
    where measure in (select measure from ref_parts) and value is not null
)

select
    attempts.athlete_id,
    attempts.tested_on,
    attempts.measure,
    attempts.side,
    attempts.attempt as trial,
    attempts.value,
    1.0::double as factor,
    attempts.pain,
    null::varchar as note,
    -- parts that give an impossible whole (a wrong split time) are kept out of the estimate
    attempts.held
    or attempts.value not between measures.hard_low and measures.hard_high as held,
    attempts.source_file,
    attempts.source_sheet,
    attempts.source_line
from attempts
left join ref_measures as measures on attempts.measure = measures.measure
anti join given
    on
        attempts.measure = given.measure
        and attempts.athlete_id = given.athlete_id
        and attempts.tested_on = given.tested_on
