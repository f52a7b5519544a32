-- One row per flag of the list: those that the data raise, and those that stand though nothing
-- raises them today, each with its state. An athlete's flags stand together (`place`), athletes by
-- their first; what was accepted is silent and stands last in its squad.
-- A difference decided on counts as listed for as long as that stands, so a test after it that
-- falls below the line for a while does not make it a new one.
with silent as (
    select
        states.flag_id,
        athletes.squad,
        states.athlete_id,
        states.topic,
        states.family,
        measures.measure,
        if(
            states.family = 'training',
            regexp_replace(regexp_replace(states.topic, '_body$', ''), '^other$', 'other:other'),
            null
        ) as part,
        case
            when states.family not in ('difference', 'zero') then states.family
            when numbers.verdict = 'confirmed' then 'confirmed'
            else 'retest'
        end as reason,
        findings.lower_side,
        numbers.estimate,
        numbers.low90,
        numbers.high90,
        numbers.unit,
        numbers.chance_over_line,
        coalesce(states.decided_on, rules.as_of) as first_flagged_on,
        false as is_raised
    from mart_flag_states as states
    join stg_athletes as athletes on states.athlete_id = athletes.athlete_id
    join ref_flag_rules as rules on athletes.squad = rules.squad
    left join ref_measures as measures on states.topic = measures.measure
    left join mart_findings as findings
        on states.athlete_id = findings.athlete_id and states.topic = findings.measure
    -- Of a ratio the numbers of the difference say nothing, nor do they of work or pain.
    left join mart_findings as numbers
        on
            findings.athlete_id = numbers.athlete_id
            and findings.measure = numbers.measure
            and states.family in ('difference', 'zero')
    anti join flags_raised as raised on states.flag_id = raised.flag_id
),

every as (
    from flags_raised
    union all by name
    select *
    from silent
    where
        family = 'refer'
        or measure is not null
        or part like 'other:%'
        or part in (select exercises.region from ref_exercises as exercises)
),

days as (
    select
        states.flag_id,
        states.decided_on,
        known.tested_on,
        known.chance_over_line >= rules.retest_chance or known.tested_on > states.decided_on
            as is_listed,
        max(known.tested_on) filter (not is_listed) over (partition by states.flag_id) as clear_on
    from mart_flag_states as states
    left join mart_known_then as known
        on states.athlete_id = known.athlete_id and states.topic = known.measure
    left join ref_flag_rules as rules on known.squad = rules.squad
    where states.family = 'difference' and states.is_in_force and states.decision != 'done'
),

stands as (
    select
        flag_id,
        least(
            any_value(decided_on),
            min(tested_on) filter (is_listed and (clear_on is null or tested_on > clear_on))
        ) as stands_since
    from days
    group by all
),

listed as (
    select
        every.* replace (least(every.first_flagged_on, stands.stands_since) as first_flagged_on),
        states.* exclude (flag_id, athlete_id, topic, family),
        if(every.family = 'training', every.measure, every.topic) as subject,
        states.status = 'accepted' as is_accepted,
        -- Words that cannot be read end no clearance; pain written beside a decision does.
        states.is_in_force and states.decision = 'cleared'
            and not list_contains(states.asked, 'note_differs') as is_cleared,
        case
            when every.reason = 'refer' and not is_cleared then 'refer'
            when states.status = 'with_medical' then 'refer'
            when states.status not in ('new', 'open') then states.status
            when every.reason = 'ratio' then 'confirmed'
            else every.reason
        end as turn
    from every
    join mart_flag_states as states on every.flag_id = states.flag_id
    left join stands on every.flag_id = stands.flag_id
),

placed as (
    select
        listed.*,
        (rules.as_of - listed.first_flagged_on) // 7 as weeks_open,
        row_number() over (
            order by
                listed.squad,
                listed.is_accepted,
                turns.place,
                urgencies.place nulls last,
                listed.first_flagged_on desc nulls last,
                listed.chance_over_line desc nulls last,
                listed.flag_id
        ) as own_place
    from listed
    join ref_flag_rules as rules on listed.squad = rules.squad
    join ref_turns as turns on listed.turn = turns.turn
    left join ref_urgencies as urgencies on listed.urgency = urgencies.urgency
),

together as (
    select
        *,
        first(turn) over own as athlete_turn,
        min(own_place) over own as first_place
    from placed
    window own as (partition by squad, is_accepted, athlete_id order by own_place)
)

select
    * exclude (own_place, first_place, is_cleared),
    row_number() over (order by squad, is_accepted, first_place, own_place) as place
from together
