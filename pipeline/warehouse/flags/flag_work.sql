-- One row per athlete and part whose lower side gets clearly less one-sided work than the other.
-- What is looked at changes on the days of a set, and on those on which a set is too old to count:
-- it has been listed since the first of them after the last on which it was not so.
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
        rules.*
    from listed
    join stg_sets as sets on listed.athlete_id = sets.athlete_id and listed.part = sets.part
    join ref_flag_rules as rules on listed.squad = rules.squad
    where sets.side != 'both' and sets.trained_on <= rules.as_of
),

changes as (
    select distinct
        athlete_id,
        part,
        as_of,
        training_sessions,
        training_share,
        7 * training_weeks as day_count,
        unnest([trained_on, trained_on + 7 * training_weeks]) as changed_on
    from worked
),

states as (
    select
        changes.athlete_id,
        changes.part,
        changes.changed_on,
        count(distinct worked.trained_on) >= any_value(changes.training_sessions)
        and coalesce(sum(worked.reps order by worked.reps) filter (worked.is_lower), 0)
        / sum(worked.reps order by worked.reps) filter (not worked.is_lower)
        < any_value(changes.training_share) as is_uneven
    from changes
    left join worked
        on
            changes.athlete_id = worked.athlete_id
            and changes.part = worked.part
            and worked.trained_on <= changes.changed_on
            and worked.trained_on > changes.changed_on - changes.day_count
    where changes.changed_on <= changes.as_of
    group by changes.athlete_id, changes.part, changes.changed_on
),

even as (
    select
        athlete_id,
        part,
        max(changed_on) as last_on
    from states
    where is_uneven is not true
    group by athlete_id, part
)

select
    listed.squad,
    listed.athlete_id,
    if(listed.part like 'other:%', listed.part, listed.part || '_body') as topic,
    listed.part,
    listed.measure,
    listed.lower_side,
    100 * (1 - listed.lower_share) as less_percent,
    min(states.changed_on) as first_flagged_on
from listed
left join even on listed.athlete_id = even.athlete_id and listed.part = even.part
left join states
    on
        listed.athlete_id = states.athlete_id
        and listed.part = states.part
        and states.changed_on > coalesce(even.last_on, '-infinity'::date)
group by all
