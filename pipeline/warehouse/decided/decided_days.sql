-- One row per day on which an athlete about whom something was decided was tested on both sides.
-- Files in doubt count here: a test that was done answers the wish for one.
select
    trials.athlete_id,
    trials.measure,
    trials.tested_on
from stg_trials as trials
semi join mart_standing as decided on trials.athlete_id = decided.athlete_id
where trials.value is not null and trials.side in ('left', 'right')
group by all
having count(distinct trials.side) = 2
