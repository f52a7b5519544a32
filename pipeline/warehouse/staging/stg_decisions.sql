-- One row per flag a meeting decided on: the decision that stands.
select
    flag_id,
    decision,
    owner,
    review_on,
    note,
    source_file,
    source_sheet,
    source_line
from raw_decisions
