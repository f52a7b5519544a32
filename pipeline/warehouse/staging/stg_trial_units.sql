-- One row per squad and test: the unit in which it was last written down, where one was.
select
    athletes.squad,
    trials.measure,
    max_by(trials.unit_given, (trials.tested_on, trials.unit_given)) as unit
from raw_trials as trials
join stg_athletes as athletes on trials.athlete_id = athletes.athlete_id
where trials.unit_given is not null and trials.value is not null
group by all
