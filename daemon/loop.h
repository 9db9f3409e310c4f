/* loop.h - one thread, one moment a turn. */
#ifndef SLUICE_DAEMON_LOOP_H
#define SLUICE_DAEMON_LOOP_H

#include "site.h"

/* Runs until a signal, or until the granted clock ends. Returns the exit status. */
int site_run(struct site *site);

#endif
