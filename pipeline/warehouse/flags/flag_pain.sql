-- One row per athlete and test or exercise in which pain was noted, from a lower number on in the
-- young. The row of the highest pain speaks, the newest of equal ones. It names a side only where
-- every such row of that day is about that side alone: pain beside both sides is no side's.
-- It has been listed since the first of the days that each came before the last one ran out.
with rated as (
    select * exclude (tested_on), tested_on as noted_on, measure as topic
    from stg_trials
    where not is_derived
    union all by name
    select * exclude (trained_on), trained_on as noted_on, exercise as topic
    from stg_log_remarks
),

painful as (
    select
        rated.*,
        rules.signs_since,
        rules.pain_urgency,
        (rated.noted_on - lag(rated.noted_on) over days <= rules.refer_days) is not true as begins
    from rated
    join stg_athletes as athletes on rated.athlete_id = athletes.athlete_id
    join ref_flag_rules as rules on rated.squad = rules.squad
    left join mart_settled_signs as settled
        on rated.athlete_id = settled.athlete_id and rated.topic = settled.topic
    where
        rated.pain > 0
        and rated.pain >= if(
            rated.noted_on < athletes.birth_date + to_years(rules.pain_under_age),
            rules.pain_note,
            rules.pain_refer
        )
        and (settled.settled_on is null or rated.noted_on > settled.settled_on)
    window days as (partition by rated.athlete_id, rated.topic order by rated.noted_on)
),

begun as (
    select
        *,
        max(noted_on) filter (begins) over (partition by athlete_id, topic) as first_flagged_on
    from painful
),

highest as (
    select * from begun
    where noted_on > signs_since
    qualify rank() over (partition by athlete_id, topic order by pain desc, noted_on desc) = 1
)

select
    squad,
    athlete_id,
    topic,
    any_value(measure) as measure,
    any_value(exercise) as exercise,
    pain as pain_level,
    if(count(distinct side) = 1, nullif(min(side), 'both'), null) as side,
    noted_on,
    first(
        note
        order by
            note is null, source_file nulls first, source_sheet nulls first,
            source_line nulls first, side
    ) as note,
    pain_urgency as urgency,
    first_flagged_on
from highest
group by all
