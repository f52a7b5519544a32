-- One row per available athlete who has not done a test of the squad's routine for long: the one
-- that waits longest, the others beside it. A test about which a decision stands is looked at again
-- as was decided, not by routine.
with late as (
    select
        coverage.squad,
        coverage.athlete_id,
        coverage.measure,
        rules.as_of - coverage.last_tested_on as waiting_days,
        coverage.last_tested_on + rules.overdue_days as first_flagged_on
    from mart_test_coverage as coverage
    join ref_flag_rules as rules on coverage.squad = rules.squad
    join ref_shown_measures as shown on coverage.measure = shown.measure
    join stg_athletes as athletes on coverage.athlete_id = athletes.athlete_id
    anti join mart_standing as decided
        on
            coverage.athlete_id = decided.athlete_id
            and coverage.measure = decided.topic
            and decided.family in ('difference', 'ratio', 'zero')
            and decided.decision != 'done'
    where
        athletes.availability != 'out'
        and coverage.tested_athlete_count
        >= rules.overdue_squad_share * coverage.squad_athlete_count
        and coverage.squad_day_count > 1
        and rules.as_of - coverage.squad_last_tested_on <= rules.overdue_days
        and waiting_days > rules.overdue_days
)

select
    squad,
    athlete_id,
    arg_min(measure, (-waiting_days, measure)) as topic,
    topic as measure,
    max(waiting_days) as waiting_days,
    list(measure order by waiting_days desc, measure)[2:] as other_measures,
    min(first_flagged_on) as first_flagged_on
from late
group by all
