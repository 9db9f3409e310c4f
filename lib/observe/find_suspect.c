/* find_suspect.c - the evidence for one fault. */
#include "observe/find_inside.h"

#include "observe/stat_wald.h"

static void count(struct suspicion *suspicion, struct moment at)
{
    if (suspicion->sum_mn <= 0 && !suspicion->stands)
        suspicion->since = at;
    if (suspicion->seen < UINT16_MAX)
        suspicion->seen++;
}

void suspect_end(struct suspicion *suspicion)
{
    *suspicion = (struct suspicion){0};
}

void suspect_add(struct suspicion *suspicion, int32_t ratio_mn, struct moment at)
{
    if (ratio_mn > 0)
        count(suspicion, at);
    if (wald_add(&suspicion->sum_mn, &suspicion->stands, ratio_mn) == WALD_REJECTED)
        suspect_end(suspicion);
}

void suspect_set(struct suspicion *suspicion, int32_t sum_mn, struct moment at)
{
    if (sum_mn <= 0) {
        suspect_end(suspicion);
        return;
    }
    count(suspicion, at);
    suspicion->sum_mn = sum_mn;
    suspicion->stands |= sum_mn >= wald_upper_mn(WALD_FALSE_PPM, WALD_MISSED_PPM);
}
