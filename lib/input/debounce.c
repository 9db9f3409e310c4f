/* debounce.c - see debounce.h. */
#include "input/debounce.h"

static void settle(struct debounce *debounce, struct mono now)
{
    if (debounce->candidate && !(debounce->known && debounce->closed))
        debounce->closed_since = now;
    debounce->known = debounce->was_known = true;
    debounce->closed = debounce->candidate;
    debounce->changed = false;
}

static void begin(struct debounce *debounce, bool closed, struct mono now)
{
    debounce->has_candidate = true;
    debounce->candidate = closed;
    debounce->candidate_since = now;
    if (!debounce->changed && (!debounce->known || debounce->closed != closed)) {
        debounce->changed = true;
        debounce->changed_at = now;
    }
}

bool debounce_saw(struct debounce *debounce, bool closed, int32_t debounce_ms, struct mono now)
{
    bool was_open = debounce->known && !debounce->closed;
    if (!debounce->has_candidate || debounce->candidate != closed)
        begin(debounce, closed, now);
    else if (mono_since_ms(now, debounce->candidate_since) >= debounce_ms)
        settle(debounce, now);
    if (debounce_chatters(debounce, now))
        debounce->known = false;
    return was_open && debounce->known && debounce->closed;
}

void debounce_failed(struct debounce *debounce)
{
    debounce->has_candidate = false;
}

void debounce_forget(struct debounce *debounce)
{
    debounce->has_candidate = debounce->known = debounce->changed = false;
}

bool debounce_chatters(const struct debounce *debounce, struct mono now)
{
    return debounce->changed && mono_since_ms(now, debounce->changed_at) >= DEBOUNCE_CHATTERS_MS;
}
