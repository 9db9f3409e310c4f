/* debounce.h - what of a contact's readings counts. Pure.
 *
 * A level counts once it was read for `debounce_ms` on end, twice at least, with no failed
 * reading in between. So the first reading after a start, or after a silence, is none yet; and
 * it closes only from a level that was known to be open. */
#ifndef SLUICE_INPUT_DEBOUNCE_H
#define SLUICE_INPUT_DEBOUNCE_H

#include "core/moment.h"

enum {
    DEBOUNCE_CHATTERS_MS = 10000, /* what has not stayed for so long is not known */
};

struct debounce {
    bool known, closed; /* closed keeps its last value where it is not known */
    bool was_known;
    bool changed; /* since it was known it has been read otherwise: at changed_at */
    struct mono changed_at;
    bool has_candidate, candidate;
    struct mono candidate_since;
    struct mono closed_since; /* while closed */
};

/* A good reading. True: it has closed, from a known open. */
bool debounce_saw(struct debounce *debounce, bool closed, int32_t debounce_ms, struct mono now);
/* A reading that failed: the next good one begins anew. */
void debounce_failed(struct debounce *debounce);
/* Nothing has been read for too long. */
void debounce_forget(struct debounce *debounce);
bool debounce_chatters(const struct debounce *debounce, struct mono now);

#endif
