-- One row per athlete and test whose difference stands out: clear, growing, or to be tested again.
-- Several exercises of the log in one region tell a meeting the same thing, and a test tells it
-- better: of those the surest stands, and none beside a test of its region. A ratio below a line of
-- its own is one point, not a second one for its difference.
with standing_out as (
    select
        findings.*,
        findings.measure_group = 'training_record' as is_record,
        findings.chance_closing <= 1 - rules.widening_chance
        and findings.session_count > rules.confirmed_days as is_widening
    from mart_findings as findings
    join ref_flag_rules as rules on findings.squad = rules.squad
    where findings.chance_over_line >= rules.retest_chance
),

chosen as (
    select * from standing_out
    qualify
        not is_record
        or (
            bool_or(not is_record and measure_group not in ('size', 'range_of_motion'))
                over (partition by athlete_id, region) is false
            and row_number() over (
                partition by athlete_id, region, is_record order by chance_over_line desc, measure
            ) = 1
        )
),

days as (
    select
        known.athlete_id,
        known.measure,
        known.tested_on,
        known.chance_over_line >= rules.retest_chance as is_over,
        max(known.tested_on) filter (known.chance_over_line < rules.retest_chance)
            over (partition by known.athlete_id, known.measure) as clear_on
    from mart_known_then as known
    join ref_flag_rules as rules on known.squad = rules.squad
),

begun as (
    select
        athlete_id,
        measure,
        min(tested_on) as first_flagged_on
    from days
    where is_over and (clear_on is null or tested_on > clear_on)
    group by all
)

select
    chosen.squad,
    chosen.athlete_id,
    chosen.measure as topic,
    chosen.measure,
    case
        when chosen.is_widening then 'widening'
        when chosen.verdict = 'confirmed' then 'confirmed'
        else 'retest'
    end as reason,
    chosen.lower_side,
    chosen.estimate,
    chosen.low90,
    chosen.high90,
    chosen.unit,
    chosen.chance_over_line,
    coalesce(begun.first_flagged_on, chosen.last_tested_on) as first_flagged_on
from chosen
left join begun on chosen.athlete_id = begun.athlete_id and chosen.measure = begun.measure
anti join flag_ratio as ratios
    on chosen.athlete_id = ratios.athlete_id and chosen.measure = ratios.measure
