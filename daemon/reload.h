/* reload.h - new settings while everything runs. */
#ifndef SLUICE_DAEMON_RELOAD_H
#define SLUICE_DAEMON_RELOAD_H

#include <pthread.h>
#include <stdatomic.h>

#include "core/text.h"

struct site;

/* What a reload has replaced, on its way out. */
struct closing {
    pthread_t thread;
    bool under_way;
    atomic_bool closed; /* set by that thread at its end */
};

/* True: the new settings are in force. False: nothing has changed, and `answer`
 * says what is wrong with the file. One that looks cut off is refused, unless
 * `even_if_cut`. */
bool site_reload(struct site *site, bool even_if_cut, struct text *answer);

/* Until what a reload has replaced is closed: at the end. */
void reload_wait(struct closing *closing);

#endif
