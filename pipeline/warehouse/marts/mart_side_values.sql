-- One row per athlete, measure, day and side: what the trials of that side came to.
-- Held rows and trials without a score are left out.
select
    trials.squad,
    trials.athlete_id,
    trials.measure,
    trials.tested_on,
    trials.side,
    count(*) as trial_count,
    avg(trials.value order by trials.value) as mean_value,
    case any_value(measures.better)
        when 'higher' then max(trials.value)
        when 'lower' then min(trials.value)
        else avg(trials.value order by trials.value)
    end as best_value,
    avg(trials.score order by trials.score) as mean_score,
    var_samp(trials.score order by trials.score) as score_variance,
    max(trials.pain) as pain,
    bool_and(trials.shapes) as shapes
from stg_trials as trials
left join ref_measures as measures on trials.measure = measures.measure
where not trials.held and trials.score is not null and trials.side in ('left', 'right')
group by all
