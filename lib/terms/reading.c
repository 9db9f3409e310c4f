/* reading.c - how long a reading may be believed. */
#include "terms/reading.h"

#include <stddef.h>

enum { FRESH_LEAST_MS = 10 * MS_PER_S, FRESH_POLLS = 3 };

int64_t reading_fresh_ms(int64_t poll_ms)
{
    int64_t polls_ms = FRESH_POLLS * poll_ms;
    return polls_ms > FRESH_LEAST_MS ? polls_ms : FRESH_LEAST_MS;
}

enum reading_quality reading_quality_at(const struct source *source, struct mono now,
                                        int64_t poll_ms)
{
    bool old = mono_since_ms(now, source->taken) > reading_fresh_ms(poll_ms);
    return source->quality == READING_FRESH && old ? READING_STALE : source->quality;
}

const char *reading_quality_text(enum reading_quality quality)
{
    static const char *const text[] = {
        [READING_ABSENT] = "absent",
        [READING_FRESH] = "fresh",
        [READING_STALE] = "stale",
        [READING_IMPLAUSIBLE] = "implausible",
    };
    return (size_t)quality < sizeof(text) / sizeof(text[0]) ? text[quality] : "unknown";
}
