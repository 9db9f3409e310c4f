/* ledger_rows.c - the storage settings, as people write them. */
#include "ledger.h"

static const struct setting_row rows[] = {
    {.key = "path",
     .kind = SETTING_TEXT,
     SETTING_AT(struct ledger_settings, path),
     .initial = "/var/lib/sluice/ledger.db",
     .text = "The database of counters, floors in progress, events and history. Its folder must be "
             "writable; beside it come files that end in -wal and -shm."},
    {.key = "history",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_DURATION_MS,
     SETTING_AT(struct ledger_settings, history_days),
     .per = MS_PER_DAY,
     .least = MS_PER_DAY,
     .greatest = INT64_C(4000) * MS_PER_DAY,
     .initial = "400 d",
     .text = "Events and history older than this are deleted, in whole days; counters never are. "
             "400 days let a season be compared with the one a year before."},
};

const struct setting_rows ledger_setting_rows = SETTING_ROWS(rows);
