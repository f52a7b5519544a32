-- One row per squad, athlete and measure the squad uses: when the athlete last did it.
-- A measure the athlete never did has no date. What the training log gives is no test of the squad.
with squad_measures as (
    select
        days.squad,
        days.measure,
        count(distinct days.athlete_id) as tested_athlete_count,
        count(distinct days.tested_on) as squad_day_count,
        max(days.tested_on) as squad_last_tested_on
    from mart_day_asymmetry as days
    join ref_measures as measures on days.measure = measures.measure
    where measures.measure_group != 'training_record'
    group by all
),

athlete_days as (
    select
        athlete_id,
        measure,
        count(*) as session_count,
        max(tested_on) as last_tested_on
    from mart_day_asymmetry
    group by all
),

squad_sizes as (
    select squad, count(*) as squad_athlete_count
    from stg_athletes
    group by all
)

select
    athletes.squad,
    athletes.athlete_id,
    squad_measures.measure,
    coalesce(athlete_days.session_count, 0) as session_count,
    athlete_days.last_tested_on,
    squad_measures.squad_last_tested_on,
    squad_measures.squad_day_count,
    squad_measures.tested_athlete_count,
    squad_sizes.squad_athlete_count
from stg_athletes as athletes
join squad_measures on athletes.squad = squad_measures.squad
left join squad_sizes on athletes.squad = squad_sizes.squad
left join athlete_days
    on
        athletes.athlete_id = athlete_days.athlete_id
        and squad_measures.measure = athlete_days.measure
