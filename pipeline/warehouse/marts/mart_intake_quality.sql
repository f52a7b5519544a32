-- One row per file and sheet: how many rows came in, and what became of them.
select
    file,
    sheet,
    kind,
    rows_read,
    rows_accepted,
    rows_refused,
    rows_repeated,
    rows_read - rows_accepted - rows_refused - rows_repeated as rows_unaccounted,
    remark
from raw_files
