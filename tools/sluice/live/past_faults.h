/* past_faults.h - faults that are over, out of the ledger's events. */
#ifndef SLUICE_TOOLS_PAST_FAULTS_H
#define SLUICE_TOOLS_PAST_FAULTS_H

#include "core/trouble.h"
#include "ledger/history.h"
#include "terms/fault.h"

/* All times that one fault stood, together. */
struct past_fault {
    char id[FAULT_ID_MAX], text[LEDGER_EVENT_MAX];
    uint16_t times;
    struct wall first, last_from, last_to; /* first: when it came for the first time */
    int64_t stood_ms;                      /* in all */
    bool stands;                           /* as far as was written */
    bool with_restart;                     /* the last time: it was gone when sluiced began anew */
};

struct past_faults {
    struct past_fault *item;
    int count, room;
    struct wall now;
};

/* From `from` to `now`, by when they came. False: `trouble` says why not. */
bool past_faults_read(struct past_faults *past, const char *ledger, struct wall from,
                      struct wall now, struct trouble *trouble);
void past_faults_free(struct past_faults *past);

#endif
