-- One row per squad and measure: the spread of repeated trials of one side on one day.
-- Variances are pooled by their degrees of freedom; averaging standard deviations would come out
-- too small (Hopkins 2000, Sports Med 30:1-15).
select
    squad,
    measure,
    count(distinct athlete_id) as athlete_count,
    count(*) as side_day_count,
    sum(trial_count)::bigint as trial_count,
    sum(trial_count - 1)::bigint as degrees_of_freedom,
    sqrt(
        sum(score_variance * (trial_count - 1) order by score_variance, trial_count)
        / sum(trial_count - 1)
    ) as within_day_sd
from mart_side_values
where trial_count > 1
group by all
