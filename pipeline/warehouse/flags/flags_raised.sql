-- One row per flag that the data of the day raise: what all kinds share. Ids are made here alone.
-- For medical staff a person and a topic are one point: of several signs the first of this order
-- speaks, and pain beside a measured change is said with it. What was decided as done is raised by
-- a later test alone, and by work once all of it was done after the decision.
with signs as (
    select squad, athlete_id, topic, lower_side, tested_on as sign_on, null as note,
        urgency, first_flagged_on, 'fall' as kind
    from flag_fall
    union all by name
    select squad, athlete_id, topic, lower_side, tested_on as sign_on, note, urgency,
        first_flagged_on, 'girth' as kind
    from flag_girth
    union all by name
    select squad, athlete_id, topic, side as lower_side, noted_on as sign_on, note, urgency,
        first_flagged_on, 'pain' as kind
    from flag_pain
    union all by name
    select squad, athlete_id, topic, noted_on as sign_on, note, urgency, first_flagged_on,
        'note' as kind
    from flag_note
    union all by name
    select squad, athlete_id, topic, noted_on as sign_on, note, urgency, first_flagged_on,
        'written' as kind
    from flag_written
),

medical as (
    select
        signs.* replace (
            coalesce(signs.note, beside.note) as note,
            if(pain_place.place < own_place.place, beside.urgency, signs.urgency) as urgency
        ),
        'refer' as reason,
        'refer' as family,
        measures.measure,
        findings.estimate,
        findings.low90,
        findings.high90,
        findings.unit,
        findings.chance_over_line
    from signs
    left join flag_pain as beside
        on signs.athlete_id = beside.athlete_id and signs.topic = beside.topic
        and signs.kind in ('fall', 'girth')
    left join ref_urgencies as pain_place on beside.urgency = pain_place.urgency
    left join ref_urgencies as own_place on signs.urgency = own_place.urgency
    left join ref_measures as measures on signs.topic = measures.measure
    left join mart_findings as findings
        on signs.athlete_id = findings.athlete_id and signs.topic = findings.measure
    qualify
        row_number() over (
            partition by signs.athlete_id, signs.topic
            order by list_position(['fall', 'girth', 'pain', 'note', 'written'], signs.kind)
        ) = 1
),

every as (
    select * from medical
    union all by name
    select *, 'difference' as family, 'difference' as kind from flag_difference
    union all by name
    select squad, athlete_id, topic, measure, lower_side, level as estimate, low90, high90, unit,
        below_line_chance as chance_over_line, first_flagged_on, 'ratio' as reason,
        'ratio' as family, 'ratio' as kind
    from flag_ratio
    union all by name
    select squad, athlete_id, topic, measure, lower_side, first_flagged_on, 'retest' as reason,
        'zero' as family, 'zero' as kind
    from flag_zero
    union all by name
    select squad, athlete_id, topic, measure, part, lower_side, first_flagged_on, '%' as unit,
        if(lower_side = 'left', less_percent, -less_percent) as estimate, 'training' as reason,
        'training' as family,
        'work' as kind
    from flag_work
    union all by name
    select squad, athlete_id, topic, measure, first_flagged_on, 'overdue' as reason,
        'overdue' as family, 'overdue' as kind
    from flag_overdue
),

tested_again as (
    select
        standing.flag_id,
        min(days.tested_on) as again_on
    from mart_standing as standing
    join decided_days as days
        on
            standing.athlete_id = days.athlete_id
            and standing.topic = days.measure
            and standing.decided_on < days.tested_on
    group by all
),

decided as (
    select
        every.*,
        standing.decision is not distinct from 'done' and every.family != 'refer' as was_done,
        if(
            every.family = 'training',
            standing.decided_on + 7 * rules.training_weeks,
            tested_again.again_on
        ) as again_on,
        rules.as_of
    from every
    join ref_flag_rules as rules on every.squad = rules.squad
    left join mart_standing as standing
        on
            every.athlete_id = standing.athlete_id
            and every.topic = standing.topic
            and every.family = standing.family
    left join tested_again on standing.flag_id = tested_again.flag_id
)

select
    athlete_id || '.' || topic || '.' || family as flag_id,
    * exclude (was_done, again_on, as_of)
    replace (
        if(was_done, greatest(first_flagged_on, again_on), first_flagged_on) as first_flagged_on
    ),
    true as is_raised
from decided
where not was_done or again_on <= as_of
