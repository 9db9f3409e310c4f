/* file.h - a database file that may be written: ours alone, whole, and up to date. */
#ifndef SLUICE_LEDGER_FILE_H
#define SLUICE_LEDGER_FILE_H

#include <sqlite3.h>

#include "ledger/ledger.h"

struct file {
    sqlite3 *db; /* NULL: nothing can be read either */
    int lock;    /* descriptor of the lock file, -1: none */
    bool writable;
    bool damaged; /* a damaged one was put aside in this run */
    bool sound;   /* looked through in this run, and no damage met since */
};

#define FILE_CLOSED ((struct file){.lock = -1})

/* Opens or creates a closed one. False: it cannot be written, `trouble` says why; `db` may be open
 * for reading all the same. `notice` is filled in where a damaged file was put aside. */
bool file_open(struct file *file, const char *path, char notice[static LEDGER_EVENT_MAX],
               struct trouble *trouble);
void file_close(struct file *file);

#endif
