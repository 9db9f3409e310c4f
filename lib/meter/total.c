/* total.c - an energy register over time: how much of what it shows is new. */
#include "total.h"

enum {
    STEP_MWH = 2000000, /* the coarsest registers step by 1 kWh, and may do so late */
    MWS_PER_MWH = 3600, /* mW·s, which is W·ms */
};

static int64_t most_risen_mwh(int64_t most_w, int64_t elapsed_ms)
{
    int64_t most = 0;
    if (elapsed_ms < 0)
        return STEP_MWH;
    if (most_w == 0)
        return INT64_MAX;
    if (__builtin_mul_overflow(most_w, elapsed_ms, &most))
        return INT64_MAX / MWS_PER_MWH;
    return most / MWS_PER_MWH + STEP_MWH;
}

static bool fits(int64_t now_mwh, int64_t then_mwh, int64_t most_w, int64_t elapsed_ms)
{
    int64_t risen;
    return !__builtin_sub_overflow(now_mwh, then_mwh, &risen) && risen >= 0 &&
           risen <= most_risen_mwh(most_w, elapsed_ms);
}

static void go_on_from(struct total *total, int64_t mwh, struct mono now)
{
    *total = (struct total){.known = true, .mwh = mwh, .at = now};
}

enum total_finding total_take(struct total *total, int64_t mwh, int64_t most_w, struct mono now,
                              int64_t *risen_mwh)
{
    *risen_mwh = 0;
    if (!total->known || fits(mwh, total->mwh, most_w, mono_since_ms(now, total->at))) {
        *risen_mwh = total->known ? mwh - total->mwh : 0;
        go_on_from(total, mwh, now);
        return TOTAL_RISEN;
    }
    if (total->doubted &&
        fits(mwh, total->doubted_mwh, most_w, mono_since_ms(now, total->doubted_at))) {
        *risen_mwh = mwh - total->doubted_mwh;
        go_on_from(total, mwh, now);
        return TOTAL_REPLACED;
    }
    total->doubted = true;
    total->doubted_mwh = mwh;
    total->doubted_at = now;
    return TOTAL_DOUBTED;
}
