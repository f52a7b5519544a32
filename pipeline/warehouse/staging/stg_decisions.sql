-- One row per flag a meeting decided on: the decision that stands, that of the latest list.
-- A sheet comes back with last week's decisions still in it, each beside the day it was made
-- (decided_on) and what it was (listed_decision), so that one sheet alone tells since when it stands.
-- Where the sheet does not say so of this decision, it is the first list of the unbroken run with
-- the same decision: the day of that list, else the date in its file's name.
-- The first word of a decision is what was decided; what follows is a remark.
with listed as (
    select
        *,
        regexp_extract(lower(trim(decision)), '^[^\s[:punct:]]*') as said,
        regexp_extract(lower(trim(listed_decision)), '^[^\s[:punct:]]*') as said_then,
        rowid as arrival,
        coalesce(
            listed_on, try_cast(regexp_extract(source_file, '\d{4}-\d{2}-\d{2}') as date)
        ) as on_list
    from raw_decisions
),

placed as (
    select
        * exclude (decided_on),
        if(coalesce(said_then, said) = said, decided_on, null) as decided_on,
        row_number() over (partition by flag_id order by on_list nulls first, arrival) as place
    from listed
),

latest as (
    select *
    from placed
    qualify row_number() over (partition by flag_id order by place desc) = 1
),

last_others as (
    select
        placed.flag_id,
        max(placed.place) as place
    from placed
    join latest on placed.flag_id = latest.flag_id
    where placed.said != latest.said
    group by all
),

runs as (
    select
        placed.flag_id,
        coalesce(arg_max(placed.decided_on, placed.place), min(placed.on_list)) as decided_on
    from placed
    left join last_others on placed.flag_id = last_others.flag_id
    where placed.place > coalesce(last_others.place, 0)
    group by all
)

select
    latest.flag_id,
    latest.decision,
    latest.owner,
    latest.review_on,
    latest.note,
    runs.decided_on,
    latest.source_file,
    latest.source_sheet,
    latest.source_line
from latest
left join runs on latest.flag_id = runs.flag_id
