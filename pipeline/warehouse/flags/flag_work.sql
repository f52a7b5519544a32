-- One row per athlete and part whose lower side gets clearly less one-sided work than the other.
-- It has been listed since the end of the first of the unbroken weeks in which that was so, however
-- long ago; a set counts at the end of each week at which it is no older than the weeks looked at.
with listed as (
    select
        work.squad,
        work.athlete_id,
        work.part,
        lower.lower_side,
        lower.measure,
        if(
            lower.lower_side = 'left',
            work.left_reps / work.right_reps,
            work.right_reps / work.left_reps
        ) as lower_share
    from mart_work_by_side as work
    join mart_lower_sides as lower
        on work.athlete_id = lower.athlete_id and work.part = lower.part
    join ref_flag_rules as rules on work.squad = rules.squad
    where work.session_count >= rules.training_sessions and lower_share < rules.training_share
),

worked as (
    select
        listed.athlete_id,
        listed.part,
        sets.trained_on,
        sets.reps,
        sets.side = listed.lower_side as is_lower,
        rules.*,
        (rules.as_of - sets.trained_on) // 7 as oldest
    from listed
    join stg_sets as sets on listed.athlete_id = sets.athlete_id and listed.part = sets.part
    join ref_flag_rules as rules on listed.squad = rules.squad
    where sets.side != 'both' and sets.trained_on <= rules.as_of
),

windows as (
    select *, unnest(range(greatest(0, oldest - training_weeks + 1), oldest + 1)) as weeks_back
    from worked
),

uneven as (
    select
        athlete_id,
        part,
        as_of - 7 * weeks_back::int as week_ends_on,
        weeks_back - row_number() over (partition by athlete_id, part order by weeks_back) as gap
    from windows
    group by athlete_id, part, as_of, weeks_back, training_sessions, training_share
    having
        count(distinct trained_on) >= training_sessions
        and coalesce(sum(reps order by reps) filter (is_lower), 0)
        / sum(reps order by reps) filter (not is_lower) < training_share
)

select
    listed.squad,
    listed.athlete_id,
    if(listed.part like 'other:%', listed.part, listed.part || '_body') as topic,
    listed.part,
    listed.measure,
    listed.lower_side,
    100 * (1 - listed.lower_share) as less_percent,
    min(uneven.week_ends_on) as first_flagged_on
from listed
left join uneven
    on
        listed.athlete_id = uneven.athlete_id
        and listed.part = uneven.part
        and uneven.gap = -1
group by all
