-- One row per athlete and ratio inside one limb (such as hamstring to quadriceps) that is below its
-- own line on a side, by that side's level: the lower one where both are.
with below as (
    select
        sides.*,
        measures.level_review as line
    from mart_side_levels as sides
    join ref_measures as measures on sides.measure = measures.measure
    join stg_athletes as athletes on sides.athlete_id = athletes.athlete_id
    join ref_flag_rules as rules on athletes.squad = rules.squad
    where sides.below_line_chance >= rules.confirmed_chance
    qualify
        row_number() over (
            partition by sides.athlete_id, sides.measure order by sides.level, sides.side
        ) = 1
),

day_means as (
    select
        trials.athlete_id,
        trials.measure,
        trials.side,
        trials.tested_on,
        avg(trials.value order by trials.value) < any_value(below.line) as is_below
    from stg_trials as trials
    join below
        on
            trials.athlete_id = below.athlete_id
            and trials.measure = below.measure
            and trials.side = below.side
    where not trials.held and trials.value is not null
    group by all
),

days as (
    select
        *,
        max(tested_on) filter (not is_below) over (partition by athlete_id, measure) as clear_on
    from day_means
),

begun as (
    select
        athlete_id,
        measure,
        min(tested_on) as first_flagged_on
    from days
    where is_below and (clear_on is null or tested_on > clear_on)
    group by all
)

select
    findings.squad,
    below.athlete_id,
    below.measure as topic,
    below.measure,
    below.side as lower_side,
    below.level,
    below.level - rules.z90 * below.level_se as low90,
    below.level + rules.z90 * below.level_se as high90,
    findings.unit,
    below.line,
    below.below_line_chance,
    coalesce(begun.first_flagged_on, below.last_tested_on) as first_flagged_on
from below
join mart_findings as findings
    on below.athlete_id = findings.athlete_id and below.measure = findings.measure
join ref_flag_rules as rules on findings.squad = rules.squad
left join begun on below.athlete_id = begun.athlete_id and below.measure = begun.measure
