-- One row per athlete and sign that words in a note tell of: the newest note, and since when there
-- have been any, each before the last one ran out.
with later as (
    select
        athletes.squad,
        signs.*,
        rules.signs_since,
        (signs.noted_on - lag(signs.noted_on) over days <= rules.refer_days) is not true as begins
    from mart_noted_signs as signs
    join stg_athletes as athletes on signs.athlete_id = athletes.athlete_id
    join ref_flag_rules as rules on athletes.squad = rules.squad
    left join mart_settled_signs as settled
        on signs.athlete_id = settled.athlete_id and signs.sign = settled.topic
    where settled.settled_on is null or signs.noted_on > settled.settled_on
    window days as (partition by signs.athlete_id, signs.sign order by signs.noted_on)
),

begun as (
    select
        *,
        max(noted_on) filter (begins) over (partition by athlete_id, sign) as first_flagged_on
    from later
)

select sign as topic, * exclude (signs_since, begins)
from begun
where noted_on > signs_since
qualify row_number() over (partition by athlete_id, sign order by noted_on desc, note) = 1
