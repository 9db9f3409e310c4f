/* stat_steps.c - the house's own steps, counted by size.
 *
 * A change within a window is taken as one step of a size that came in it, at the rate at which
 * such steps came before, and within a size each watt as likely as another, up or down. What
 * remains to one is no step at all. Where several small ones add up this is too narrow, which
 * the share for whatever else may have happened (JUNK) makes up for: it also keeps any single
 * observation from being worth more than it can be. */
#include "observe/stat_steps.h"

enum {
    FIRST_W = 16,
    MILLION = 1000000,
    /* Before a house is known: some hours of a usual one, in which a step comes the more rarely
     * the larger it is; one of 3 kW every six hours. Common practice, no source. */
    PRIOR_MS = 6 * 3600 * 1000,
    PRIOR_MILLI_W = 3000000,
    FADE_DAYS = 28,
    JUNK_PPM = 20000, /* one observation in fifty is not what it seems */
    JUNK_SPAN_W = 40000,
    LEAST_REST_PPM = 50000,
    RESOLUTION_MOST_W = 250, /* meters of whole 100 W are about, coarser ones hardly */
};

#define WHOLE 1000000000000ll /* of all that can happen, in parts */
#define PARTS_TO_DENSITY 1000 /* to 1e-15 */

/* Lower edge of a size; half octaves: 0, 16, 22, 32, 45, 64, ... */
static int64_t edge_w(int size)
{
    if (size == 0)
        return 0;
    int64_t octave = (int64_t)FIRST_W << ((size - 1) / 2);
    return size % 2 ? octave : octave * 1414 / 1000;
}

static int size_of(int64_t magnitude_w)
{
    int size = STEP_SIZES - 1;
    while (size > 0 && magnitude_w < edge_w(size))
        size--;
    return size;
}

void steps_begin(struct stat_steps *steps)
{
    *steps = (struct stat_steps){.watched_ms = PRIOR_MS};
    for (int size = 1; size < STEP_SIZES; size++)
        steps->seen_milli[size] = PRIOR_MILLI_W / edge_w(size);
}

void steps_note(struct stat_steps *steps, int32_t step_w, int32_t spacing_ms)
{
    int64_t magnitude_w = step_w < 0 ? -(int64_t)step_w : step_w;
    if (spacing_ms <= 0)
        return;
    steps->watched_ms += spacing_ms;
    steps->seen_milli[size_of(magnitude_w)] += 1000;
    if (magnitude_w > 0 && magnitude_w <= RESOLUTION_MOST_W &&
        (steps->resolution_w == 0 || magnitude_w < steps->resolution_w))
        steps->resolution_w = (int32_t)magnitude_w;
}

void steps_fade(struct stat_steps *steps)
{
    struct stat_steps prior;
    steps_begin(&prior);
    if (steps->watched_ms <= PRIOR_MS)
        return;
    for (int size = 0; size < STEP_SIZES; size++)
        steps->seen_milli[size] -= (steps->seen_milli[size] - prior.seen_milli[size]) / FADE_DAYS;
    steps->watched_ms -= (steps->watched_ms - PRIOR_MS) / FADE_DAYS;
}

/* How likely a step of each size comes in the window, in parts of WHOLE; together WHOLE. */
static void shares_of(const struct stat_steps *steps, int32_t window_ms,
                      int64_t share[static STEP_SIZES])
{
    int64_t sum = 0;
    for (int size = 1; size < STEP_SIZES; size++) {
        int64_t per_s = steps->seen_milli[size] * MILLION / (steps->watched_ms / 1000 + 1);
        share[size] = per_s * (WHOLE / MILLION / 1000) / 1000 * window_ms;
        sum += share[size];
    }
    int64_t most = WHOLE / MILLION * (MILLION - LEAST_REST_PPM);
    for (int size = 1; sum > most && size < STEP_SIZES; size++)
        share[size] = share[size] / (sum / (most / 1000) + 1) * 1000;
    share[0] = WHOLE;
    for (int size = 1; size < STEP_SIZES; size++)
        share[0] -= share[size];
}

/* The part of all changes that lie between -magnitude_w and magnitude_w. */
static int64_t part_within(const int64_t share[static STEP_SIZES], int64_t magnitude_w)
{
    int64_t part = 0;
    int size = size_of(magnitude_w);
    for (int k = 0; k < size; k++)
        part += share[k];
    if (size == STEP_SIZES - 1)
        return part + share[size];
    int64_t width_w = edge_w(size + 1) - edge_w(size);
    return part + share[size] / width_w * (magnitude_w - edge_w(size));
}

static int64_t part_below(const int64_t share[static STEP_SIZES], int64_t value_w)
{
    int64_t half = part_within(share, value_w < 0 ? -value_w : value_w) / 2;
    return value_w < 0 ? -half : half;
}

int64_t steps_density(const struct stat_steps *steps, int64_t rest_w, int64_t slack_w,
                      int32_t window_ms)
{
    int64_t share[STEP_SIZES];
    shares_of(steps, window_ms, share);
    slack_w += steps->resolution_w / 2 + 1;
    int64_t part = part_below(share, rest_w + slack_w) - part_below(share, rest_w - slack_w);
    int64_t junk = WHOLE / MILLION * JUNK_PPM / JUNK_SPAN_W * PARTS_TO_DENSITY;
    return part * PARTS_TO_DENSITY / (2 * slack_w) + junk;
}

int64_t steps_rate_ppm(const struct stat_steps *steps, int32_t least_w, int32_t most_w,
                       int64_t window_ms)
{
    int64_t milli = 0;
    for (int size = size_of(least_w); size <= size_of(most_w); size++)
        milli += steps->seen_milli[size];
    return milli * (window_ms / 1000) / (steps->watched_ms / 1000 + 1) * 1000;
}
