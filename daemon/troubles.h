/* troubles.h - what is wrong now, said once. */
#ifndef SLUICE_DAEMON_TROUBLES_H
#define SLUICE_DAEMON_TROUBLES_H

#include "site.h"

void site_trouble(struct site *site, const char *id, const char *format, ...)
    __attribute__((format(printf, 3, 4)));
void site_solved(struct site *site, const char *id);

/* A line for the log and the ledger. */
void site_note(struct site *site, const char *subject, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
