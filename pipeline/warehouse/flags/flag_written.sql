-- One row per athlete and topic of which somebody wrote pain or a sign beside a decision, which so
-- starts nothing. `sign` is null where it was pain, `pain_level` where it was a sign.
select
    written.squad,
    written.athlete_id,
    written.topic,
    written.sign,
    written.pain_level,
    written.noted_on,
    written.note,
    written.urgency,
    written.noted_on as first_flagged_on
from mart_written_signs as written
left join mart_settled_signs as settled
    on written.athlete_id = settled.athlete_id and written.topic = settled.topic
where settled.settled_on is null or written.noted_on > settled.settled_on
qualify
    row_number() over (
        partition by written.athlete_id, written.topic
        order by written.pain_level desc nulls first, written.place
    ) = 1
