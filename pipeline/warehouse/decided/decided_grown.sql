-- One row per accepted difference that is larger now, beyond its lead, than on the day it was
-- accepted: by more than the two estimates' errors together with a chance of 95 in 100. The errors
-- are taken as independent, which asks for more than is needed rather than less.
select standing.flag_id
from mart_standing as standing
join mart_findings as findings
    on standing.athlete_id = findings.athlete_id and standing.topic = findings.measure
join ref_flag_rules as rules on findings.squad = rules.squad
asof join (from mart_session_estimates where estimate is not null) as days
    on
        standing.athlete_id = days.athlete_id
        and standing.topic = days.measure
        and standing.decided_on >= days.tested_on
where
    standing.family = 'difference'
    and standing.decision = 'accept'
    and findings.chance_over_line >= rules.retest_chance
    and abs(findings.estimate_d - findings.lead_d) - abs(days.estimate - findings.lead_d)
    > rules.z90 * sqrt(
        findings.sd_d * findings.sd_d
        + power((days.high - days.low) / (2 * rules.z90), 2)
    )
