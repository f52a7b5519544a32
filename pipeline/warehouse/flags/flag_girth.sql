-- One row per athlete and girth that changed on one side: it fell, beyond its error, against that
-- side's own last weeks while the other held, and has been listed since the first of the days on
-- which it lay as low; or it grew since the last time, with a note of that day. A note beside that
-- girth and side goes before any other of the day.
with lost as (
    select
        own.athlete_id,
        own.measure,
        own.side as lower_side,
        'loss' as change,
        -own.change_recent as change_cm,
        own.last_tested_on as tested_on,
        null::varchar as note,
        signs.urgency,
        signs.place,
        own.recent_level - signs.loss_cm as line_cm
    from mart_findings as findings
    join ref_flag_rules as rules on findings.squad = rules.squad
    join ref_girth_signs as signs on findings.measure = signs.measure
    join mart_side_levels as own
        on findings.athlete_id = own.athlete_id and findings.measure = own.measure
    join mart_side_levels as other
        on
            own.athlete_id = other.athlete_id
            and own.measure = other.measure
            and own.side != other.side
    where
        own.change_recent < -signs.loss_cm
        and own.change_recent < -rules.z95 * own.change_recent_se
        and other.change_recent > -rules.z95 * other.change_recent_se
),

day_means as (
    select
        trials.athlete_id,
        trials.measure,
        trials.side,
        trials.tested_on,
        avg(trials.value order by trials.value) as girth_cm
    from stg_trials as trials
    semi join ref_girth_signs as signs on trials.measure = signs.measure
    where not trials.held and trials.value is not null
    group by all
),

low as (
    select
        lost.athlete_id,
        lost.measure,
        lost.place,
        days.tested_on,
        max(days.tested_on) filter (days.girth_cm > lost.line_cm) over girth as clear_on
    from lost
    join day_means as days
        on
            lost.athlete_id = days.athlete_id
            and lost.measure = days.measure
            and lost.lower_side = days.side
    window girth as (partition by lost.athlete_id, lost.measure, lost.place)
),

begun as (
    select
        athlete_id,
        measure,
        place,
        min(tested_on) as first_flagged_on
    from low
    where clear_on is null or tested_on > clear_on
    group by all
),

steps as (
    select
        *,
        girth_cm - lag(girth_cm) over (partition by athlete_id, measure, side order by tested_on)
            as gain_cm
    from day_means
    qualify tested_on = max(tested_on) over (partition by athlete_id, measure)
),

gained as (
    select
        own.athlete_id,
        own.measure,
        own.side as lower_side,
        'gain' as change,
        own.gain_cm as change_cm,
        own.tested_on,
        notes.note,
        signs.urgency,
        signs.place
    from steps as own
    join ref_girth_signs as signs on own.measure = signs.measure
    join steps as other
        on
            own.athlete_id = other.athlete_id
            and own.measure = other.measure
            and own.side != other.side
    join stg_trials as notes
        on own.athlete_id = notes.athlete_id and own.tested_on = notes.tested_on
    where
        own.gain_cm >= signs.gain_cm
        and coalesce(other.gain_cm, 0) < signs.gain_cm
        and notes.note is not null
    qualify
        row_number() over (
            partition by own.athlete_id, own.measure, signs.place
            order by
                notes.measure != own.measure or notes.side != own.side,
                notes.measure != own.measure,
                notes.measure,
                notes.side,
                notes.trial
        ) = 1
)

select
    athletes.squad,
    changed.measure as topic,
    changed.* exclude (place, line_cm),
    if(changed.change = 'loss', begun.first_flagged_on, changed.tested_on) as first_flagged_on
from (from lost union all by name from gained) as changed
left join begun
    on
        changed.athlete_id = begun.athlete_id
        and changed.measure = begun.measure
        and changed.place = begun.place
join stg_athletes as athletes on changed.athlete_id = athletes.athlete_id
join ref_flag_rules as rules on athletes.squad = rules.squad
left join mart_settled_signs as settled
    on changed.athlete_id = settled.athlete_id and changed.measure = settled.topic
where
    changed.tested_on > rules.signs_since
    and (settled.settled_on is null or changed.tested_on > settled.settled_on)
qualify
    row_number() over (
        partition by changed.athlete_id, changed.measure
        order by changed.change = 'gain', changed.place
    ) = 1
