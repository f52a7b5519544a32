-- One row per squad and measure: how the athletes' latest sessions are spread, signed d.
with latest as (
    select *
    from mart_day_asymmetry
    qualify row_number() over (partition by athlete_id, measure order by tested_on desc) = 1
)

select
    squad,
    measure,
    count(*) as athlete_count,
    count(*) filter (d > 0) as right_higher_count,
    count(*) filter (d < 0) as left_higher_count,
    avg(d order by d) as mean_d,
    stddev_samp(d order by d) as sd_d,
    quantile_cont(d, 0.10) as tenth_d,
    median(d) as median_d,
    quantile_cont(d, 0.90) as ninetieth_d,
    median(abs(d)) as median_size
from latest
group by all
