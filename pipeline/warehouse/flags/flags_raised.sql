-- One row per flag that the data of the day raise: what all kinds share. Ids are made here alone.
-- For medical staff a person and a topic are one point: of several signs the first of this order
-- speaks, and pain beside a measured change is said with it. What was decided as done is raised by
-- a later test alone, and by work once all of it was done after the decision.
with signs as (
    select *, tested_on as sign_on, 'fall' as kind from flag_fall
    union all by name
    select *, tested_on as sign_on, 'girth' as kind from flag_girth
    union all by name
    select *, noted_on as sign_on, side as lower_side, 'pain' as kind from flag_pain
    union all by name
    select *, noted_on as sign_on, 'note' as kind from flag_note
    union all by name
    select *, noted_on as sign_on, 'written' as kind from flag_written
),

medical as (
    select
        signs.squad,
        signs.athlete_id,
        signs.topic,
        signs.kind,
        signs.lower_side,
        signs.first_flagged_on,
        signs.sign_on,
        coalesce(signs.note, beside.note) as note,
        if(sooner.place < own.place, beside.urgency, signs.urgency) as urgency,
        measures.measure,
        findings.estimate,
        findings.low90,
        findings.high90,
        findings.unit,
        findings.chance_over_line
    from signs
    left join flag_pain as beside
        on
            signs.athlete_id = beside.athlete_id
            and signs.topic = beside.topic
            and signs.kind in ('fall', 'girth')
    left join ref_urgencies as sooner on beside.urgency = sooner.urgency
    left join ref_urgencies as own on signs.urgency = own.urgency
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
    select *, 'refer' as family, 'refer' as reason from medical
    union all by name
    select *, 'difference' as family, 'difference' as kind from flag_difference
    union all by name
    select
        *, 'ratio' as family, 'ratio' as kind, 'ratio' as reason, level as estimate,
        below_line_chance as chance_over_line
    from flag_ratio
    union all by name
    select *, 'zero' as family, 'zero' as kind, 'retest' as reason from flag_zero
    union all by name
    select
        *, 'training' as family, 'work' as kind, 'training' as reason, '%' as unit,
        if(lower_side = 'left', less_percent, -less_percent) as estimate
    from flag_work
    union all by name
    select *, 'overdue' as family, 'overdue' as kind, 'overdue' as reason from flag_overdue
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
    squad,
    athlete_id,
    topic,
    family,
    kind,
    measure,
    part,
    reason,
    lower_side,
    estimate,
    low90,
    high90,
    unit,
    chance_over_line,
    if(was_done, greatest(first_flagged_on, again_on), first_flagged_on) as first_flagged_on,
    sign_on,
    note,
    urgency,
    true as is_raised
from decided
where not was_done or again_on <= as_of
