-- One row per athlete and one-sided exercise with comparable sets on both sides.
-- is_by_design: nearly every pair carried one load on both sides, as a coach prescribes it. Such
-- equality says nothing about strength, so these sets never enter an estimate.
select
    pairs.squad,
    pairs.athlete_id,
    pairs.exercise,
    pairs.measure,
    count(distinct pairs.trained_on) as session_count,
    count(*) as pair_count,
    avg(pairs.is_equal_load::double) as equal_share,
    avg(pairs.is_equal_load::double) >= any_value(rules.equal_share) as is_by_design
from stg_log_pairs as pairs
cross join ref_log_rules as rules
group by all
