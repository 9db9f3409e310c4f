/* tracks.c - converting, adding up, and steps made coarser.
 *
 * What is missing stays so: a sum with a missing part is missing, and so is a coarse step
 * with a missing fine one. */
#include "days/tracks.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

static int64_t step_ms(const struct days_track *track)
{
    return (int64_t)track->step_s * MS_PER_S;
}

struct wall days_track_end(const struct days_track *track)
{
    return (struct wall){track->first.ms + (int64_t)track->count * step_ms(track)};
}

void days_track_free(struct days_track *track)
{
    free(track->value);
    track->value = NULL;
}

void days_track_take(struct days_track *track, struct days_channel *channel, double factor)
{
    track->count = channel->count;
    track->first = channel->first;
    track->step_s = channel->step_s;
    track->from[0] = channel;
    track->from_count = 1;
    track->value = days_channel_take(channel);
    for (size_t k = 0; k < track->count && factor != 1; k++)
        track->value[k] = (float)(track->value[k] * factor);
}

void days_track_coarsen(struct days_track *track, int32_t step_s)
{
    size_t rows = (size_t)(step_s / track->step_s);
    int64_t coarse_ms = (int64_t)step_s * MS_PER_S;
    if (rows <= 1)
        return;
    int64_t off_ms = track->first.ms % coarse_ms;
    size_t from = off_ms ? (size_t)((coarse_ms - off_ms) / step_ms(track)) : 0;
    size_t count = track->count > from ? (track->count - from) / rows : 0;
    for (size_t k = 0; k < count; k++) {
        double sum = 0;
        for (size_t row = 0; row < rows; row++)
            sum += (double)track->value[from + k * rows + row];
        track->value[k] = (float)(track->litres ? sum : sum / (double)rows);
    }
    track->first.ms += (int64_t)from * step_ms(track);
    track->step_s = step_s;
    track->count = count;
}

static void add_value(float *to, float value, bool pieces, bool *twice)
{
    if (!pieces)
        *to += value;
    else if (isnan(*to))
        *to = value;
    else if (!isnan(value) && *to != value)
        *twice = true;
}

static void keep_from(struct days_track *track, const struct days_track *other)
{
    for (int k = 0; k < other->from_count && track->from_count < DAYS_CHANNELS_MAX; k++)
        track->from[track->from_count++] = other->from[k];
}

static int64_t later(int64_t one, int64_t other)
{
    return one > other ? one : other;
}

/* The span of both for pieces; what both cover for a sum. */
static void span_of(const struct days_track *one, const struct days_track *other, bool pieces,
                    int64_t *first_ms, int64_t *end_ms)
{
    int64_t ends[2] = {days_track_end(one).ms, days_track_end(other).ms};
    if (pieces) {
        *first_ms = -later(-one->first.ms, -other->first.ms);
        *end_ms = later(ends[0], ends[1]);
    } else {
        *first_ms = later(one->first.ms, other->first.ms);
        *end_ms = later(*first_ms, -later(-ends[0], -ends[1]));
    }
}

static void lay(struct days_track *joined, const struct days_track *track, bool pieces,
                struct wall *twice_at, bool *twice)
{
    int64_t apart = (track->first.ms - joined->first.ms) / step_ms(joined);
    for (size_t k = 0; k < track->count; k++) {
        int64_t slot = apart + (int64_t)k;
        bool same = false;
        if (slot < 0 || slot >= (int64_t)joined->count)
            continue;
        add_value(&joined->value[slot], track->value[k], pieces, &same);
        if (same && !*twice)
            twice_at->ms = track->first.ms + (int64_t)k * step_ms(joined);
        *twice |= same;
    }
}

enum days_joined days_track_join(struct days_track *track, struct days_track *other, bool pieces,
                                 struct wall *twice)
{
    struct days_track joined = *track;
    int64_t first_ms, end_ms;
    bool is_twice = false;
    if ((track->first.ms - other->first.ms) % step_ms(track))
        return DAYS_JOIN_GRID;
    span_of(track, other, pieces, &first_ms, &end_ms);
    joined.first.ms = first_ms;
    joined.count = (size_t)((end_ms - first_ms) / step_ms(track));
    joined.value = malloc((joined.count ? joined.count : 1) * sizeof(float));
    if (!joined.value)
        return DAYS_JOIN_MEMORY;
    for (size_t k = 0; k < joined.count; k++)
        joined.value[k] = pieces ? NAN : 0;
    lay(&joined, track, pieces, twice, &is_twice);
    lay(&joined, other, pieces, twice, &is_twice);
    keep_from(&joined, other);
    days_track_free(track);
    days_track_free(other);
    *track = joined;
    return is_twice ? DAYS_JOIN_TWICE : DAYS_JOINED;
}

void days_track_trim(struct days_track *track, struct wall first, size_t count)
{
    size_t from = (size_t)((first.ms - track->first.ms) / step_ms(track));
    if (from > 0)
        memmove(track->value, track->value + from, count * sizeof(float));
    track->first = first;
    track->count = count;
}

struct days_place days_track_place(const struct days_track *track, struct wall at)
{
    for (int k = 0; k < track->from_count; k++) {
        const struct days_channel *channel = track->from[k];
        int64_t apart_ms = at.ms - channel->first.ms;
        if (apart_ms < 0 || apart_ms / MS_PER_S / channel->step_s >= (int64_t)channel->count)
            continue;
        struct days_place place =
            days_channel_place(channel, (size_t)(apart_ms / MS_PER_S / channel->step_s));
        if (place.line > 0)
            return place;
    }
    return (struct days_place){0};
}
