/* copy.h - a ledger's file taken along, and put in place on another machine. */
#ifndef SLUICE_LEDGER_COPY_H
#define SLUICE_LEDGER_COPY_H

#include "core/moment.h"
#include "core/trouble.h"

/* A whole and consistent copy at `to`, where nothing may be yet, also while a daemon writes
 * the ledger, which is not held up. `saved` is when the last snapshot in it was taken. */
bool ledger_copy(const char *path, const char *to, struct wall *saved, struct trouble *trouble);

/* Whether it is a sound ledger, and not a newer program's. `saved` as above. */
bool ledger_is_sound(const char *path, struct wall *saved, struct trouble *trouble);

/* Keeps every daemon from writing the ledger at `path`, there or not, until it is let go.
 * False: one is at it. */
struct ledger_hold {
    int lock;  /* < 0: none can be made in that folder */
    bool made; /* there was no lock file: it goes again */
};
bool ledger_hold(const char *path, struct ledger_hold *hold);
void ledger_let_go(const char *path, const struct ledger_hold *hold);

#endif
