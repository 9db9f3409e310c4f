/* pace.h - how fast one client may ask. Pure.
 *
 * One moment says it all: when the client will have paid for what it has asked. It may
 * run ahead of its pace by a few requests; a new client begins with that used up, so
 * that connecting anew gains nothing. */
#ifndef SLUICE_GATEWAY_PACE_H
#define SLUICE_GATEWAY_PACE_H

#include <stdbool.h>
#include <stdint.h>

struct pace {
    int64_t each_us;  /* what one request costs */
    int64_t ahead_us; /* how far it may run ahead */
    int64_t paid_us;
};

static inline struct pace pace_begin(int32_t rate, int64_t now_us)
{
    struct pace pace = {.each_us = 1000000 / rate};
    pace.ahead_us = (rate / 5) * pace.each_us;
    pace.paid_us = now_us + pace.ahead_us;
    return pace;
}

/* When the next request may be taken; in the past: now. */
static inline int64_t pace_next_us(const struct pace *pace)
{
    return pace->paid_us - pace->ahead_us;
}

static inline void pace_take(struct pace *pace, int64_t now_us)
{
    pace->paid_us = (pace->paid_us > now_us ? pace->paid_us : now_us) + pace->each_us;
}

#endif
