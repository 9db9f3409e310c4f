/* ledger_rows.c - the storage settings, as people write them. */
#include "ledger.h"

static const struct setting_row rows[] = {
    {.key = "path",
     .kind = SETTING_TEXT,
     SETTING_AT(struct ledger_settings, path),
     .initial = "/var/lib/sluice/ledger.db",
     .text = "The file that counters, floors in progress, events and history are kept in. Its "
             "folder must be writable; beside it come files that end in -wal and -shm."},
    {.key = "history_days",
     .kind = SETTING_QUANTITY,
     .unit = QUANTITY_COUNT,
     SETTING_AT(struct ledger_settings, history_days),
     .least = 1,
     .greatest = 4000,
     .initial = "400",
     .text = "Events and history older than so many days are dropped; counters never are. 400 "
             "days let a season be compared with the one a year before."},
};

const struct setting_rows ledger_setting_rows = SETTING_ROWS(rows);
