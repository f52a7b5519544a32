-- One row per athlete and test in which a side, or both, lie far below their own weeks before, at
-- once or over weeks. Where both sides of most of a squad fall together, a test has changed, not a
-- person. What fell over weeks is as low in the next test: cleared once, it is no later sign.
with tested as (
    select
        findings.squad,
        findings.athlete_id,
        findings.measure,
        falls.side as lower_side,
        falls.fall,
        falls.fall_share,
        falls.last_tested_on,
        count(*) over test as athlete_count,
        avg((falls.fall is not distinct from 'both_loss')::double) over test as both_share
    from mart_findings as findings
    left join mart_falls as falls
        on findings.athlete_id = falls.athlete_id and findings.measure = falls.measure
    window test as (partition by findings.squad, findings.measure)
),

days as (
    select
        known.athlete_id,
        known.measure,
        known.tested_on,
        fallen.tested_on is not null
        and known.tested_on - known.own_on < rules.refer_days as is_fallen,
        max(known.tested_on) filter (not is_fallen)
            over (partition by known.athlete_id, known.measure) as clear_on
    from mart_known_then as known
    join ref_flag_rules as rules on known.squad = rules.squad
    left join mart_falls_then as fallen
        on
            known.athlete_id = fallen.athlete_id
            and known.measure = fallen.measure
            and known.own_on = fallen.tested_on
),

begun as (
    select
        athlete_id,
        measure,
        min(tested_on) as first_flagged_on
    from days
    where is_fallen and (clear_on is null or tested_on > clear_on)
    group by all
)

select
    tested.squad,
    tested.athlete_id,
    tested.measure as topic,
    tested.measure,
    tested.lower_side,
    tested.fall,
    100 * tested.fall_share as lost_percent,
    tested.last_tested_on as tested_on,
    if(tested.fall = 'slow_loss', rules.slow_loss_urgency, rules.loss_urgency) as urgency,
    coalesce(begun.first_flagged_on, tested.last_tested_on) as first_flagged_on
from tested
join ref_flag_rules as rules on tested.squad = rules.squad
left join begun on tested.athlete_id = begun.athlete_id and tested.measure = begun.measure
left join mart_settled_signs as settled
    on tested.athlete_id = settled.athlete_id and tested.measure = settled.topic
where
    tested.fall is not null
    and (
        tested.fall != 'both_loss'
        or tested.athlete_count < rules.few_athletes
        or tested.both_share < rules.most_share
    )
    and (
        settled.settled_on is null
        or if(
            tested.fall = 'slow_loss',
            coalesce(begun.first_flagged_on, tested.last_tested_on),
            tested.last_tested_on
        ) > settled.settled_on
    )
qualify
    row_number() over (
        partition by tested.athlete_id, tested.measure
        order by tested.fall != 'slow_loss', tested.lower_side
    ) = 1
