/* rate_limit.h - how fast one client may ask. Pure.
 *
 * One moment says it all: when the client will have paid for what it has asked. It may
 * run ahead of its rate by a few requests; a new client begins with that used up, so
 * that connecting anew gains nothing. */
#ifndef SLUICE_GATEWAY_RATE_LIMIT_H
#define SLUICE_GATEWAY_RATE_LIMIT_H

#include <stdbool.h>
#include <stdint.h>

struct rate_limit {
    int64_t each_us;  /* what one request costs */
    int64_t ahead_us; /* how far it may run ahead */
    int64_t paid_us;
};

static inline struct rate_limit rate_limit_begin(int32_t rate, int64_t now_us)
{
    struct rate_limit limit = {.each_us = 1000000 / rate};
    limit.ahead_us = (rate / 5) * limit.each_us;
    limit.paid_us = now_us + limit.ahead_us;
    return limit;
}

/* When the next request may be taken; in the past: now. */
static inline int64_t rate_limit_next_us(const struct rate_limit *limit)
{
    return limit->paid_us - limit->ahead_us;
}

static inline void rate_limit_take(struct rate_limit *limit, int64_t now_us)
{
    limit->paid_us = (limit->paid_us > now_us ? limit->paid_us : now_us) + limit->each_us;
}

#endif
