-- One row per flag, list and thing that was said of it; which of them stand is told in the review.
select
    flag_id,
    decision,
    said,
    step,
    owner,
    review_on,
    review_said,
    note,
    listed_on,
    decided_on,
    listed_decision,
    is_fresh,
    source_file,
    source_sheet,
    source_line
from raw_decisions
