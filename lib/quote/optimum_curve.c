/* Both ends lose pieces all the time and the middle gains some, a few hundred pieces in
 * all: two flat arrays with free space at both ends beat any tree. An insertion moves
 * the shorter side by one. */
#include "quote/optimum_curve.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

/* Shorter pieces are rounding: 1e-15 kWh. */
#define NOTHING 1e-15

bool optimum_curve_init(struct optimum_curve *curve, double slope, double length)
{
    *curve = (struct optimum_curve){0};
    if (!optimum_curve_reserve(curve, 8))
        return false;
    curve->slope[curve->first] = slope;
    curve->length[curve->first] = length;
    curve->count = 1;
    curve->span = length;
    return true;
}

void optimum_curve_free(struct optimum_curve *curve)
{
    free(curve->slope);
    free(curve->length);
    *curve = (struct optimum_curve){0};
}

static double *moved(const double *from, size_t count, size_t room, size_t first)
{
    double *to = malloc(room * sizeof(*to));
    if (to && count > 0)
        memcpy(to + first, from, count * sizeof(*to));
    return to;
}

/* Space for `more` on either side, the pieces in the middle. */
bool optimum_curve_reserve(struct optimum_curve *curve, size_t more)
{
    if (curve->first >= more && curve->first + curve->count + more <= curve->room)
        return true;
    size_t room = 2 * (curve->count + 2 * more) + 64;
    size_t first = (room - curve->count) / 2;
    double *slope = moved(curve->slope + curve->first, curve->count, room, first);
    double *length = moved(curve->length + curve->first, curve->count, room, first);
    if (!slope || !length) {
        free(slope);
        free(length);
        return false;
    }
    free(curve->slope);
    free(curve->length);
    curve->slope = slope;
    curve->length = length;
    curve->room = room;
    curve->first = first;
    return true;
}

/* Opens a gap before piece `at` (counted from the emptiest); returns its index. */
static size_t open_gap(struct optimum_curve *curve, size_t at)
{
    size_t index = curve->first + at;
    if (at < curve->count / 2) {
        size_t bytes = at * sizeof(double);
        memmove(curve->slope + curve->first - 1, curve->slope + curve->first, bytes);
        memmove(curve->length + curve->first - 1, curve->length + curve->first, bytes);
        curve->first--;
        index--;
    } else {
        size_t bytes = (curve->count - at) * sizeof(double);
        memmove(curve->slope + index + 1, curve->slope + index, bytes);
        memmove(curve->length + index + 1, curve->length + index, bytes);
    }
    curve->count++;
    return index;
}

/* Takes out what lies between two pieces; returns the index of the emptier. */
static size_t close_gap(struct optimum_curve *curve, size_t low, size_t high)
{
    size_t end = curve->first + curve->count, gone = high - low - 1;
    memmove(curve->slope + low + 1, curve->slope + high, (end - high) * sizeof(double));
    memmove(curve->length + low + 1, curve->length + high, (end - high) * sizeof(double));
    curve->count -= gone;
    return low;
}

void optimum_curve_insert(struct optimum_curve *curve, double slope, double length)
{
    if (length < NOTHING)
        return;
    curve->span += length;
    size_t low = 0, high = curve->count;
    while (low < high) {
        size_t middle = (low + high) / 2;
        if (curve->slope[curve->first + middle] < slope)
            low = middle + 1;
        else
            high = middle;
    }
    if (low < curve->count && curve->slope[curve->first + low] == slope) {
        curve->length[curve->first + low] += length;
        return;
    }
    size_t index = open_gap(curve, low);
    curve->slope[index] = slope;
    curve->length[index] = length;
}

void optimum_curve_cut_full(struct optimum_curve *curve, double length)
{
    while (length > 0 && curve->count > 0) {
        size_t last = curve->first + curve->count - 1;
        double taken = curve->length[last] < length ? curve->length[last] : length;
        curve->at_full -= curve->slope[last] * taken;
        length -= taken;
        curve->span -= taken;
        curve->length[last] -= taken;
        if (curve->count > 1 && curve->length[last] < NOTHING)
            curve->count--;
        else if (curve->length[last] <= 0)
            return;
    }
}

void optimum_curve_measure(struct optimum_curve *curve)
{
    curve->span = 0;
    for (size_t i = 0; i < curve->count; i++)
        curve->span += curve->length[curve->first + i];
}

void optimum_curve_fit(struct optimum_curve *curve, double length)
{
    double over = curve->span - length;
    curve->span = length;
    while (curve->count > 1 && curve->length[curve->first] <= over) {
        over -= curve->length[curve->first];
        curve->first++;
        curve->count--;
    }
    curve->length[curve->first] -= over;
}

/* The number of pieces that lie farther than `from` from the full end; the piece across
 * it is parted. */
static size_t part(struct optimum_curve *curve, double from)
{
    size_t beyond = curve->count;
    while (beyond > 0) {
        double length = curve->length[curve->first + beyond - 1];
        if (from < NOTHING)
            return beyond;
        if (length > from + NOTHING) {
            double slope = curve->slope[curve->first + beyond - 1];
            size_t index = open_gap(curve, beyond);
            curve->slope[index] = slope;
            curve->length[index] = from;
            curve->length[index - 1] = length - from;
            return beyond;
        }
        from -= length;
        beyond--;
    }
    return 0;
}

void optimum_curve_bend(struct optimum_curve *curve, double from, double kept, double added)
{
    size_t beyond = from > 0 ? part(curve, from) : curve->count;
    double stretched = 1 / kept, before = from > 0 ? from : 0;
    if (beyond > 0)
        curve->span = before + (curve->span - before) * stretched;
    double *slope = curve->slope + curve->first, *length = curve->length + curve->first;
    for (size_t i = 0; i < beyond; i++) {
        slope[i] = slope[i] * kept + added;
        length[i] *= stretched;
    }
}

void optimum_curve_straighten(struct optimum_curve *curve, double from, double slope, double length)
{
    size_t beyond = from > 0 ? part(curve, from) : curve->count;
    curve->first += beyond;
    curve->count -= beyond;
    assert(curve->first > 0);
    curve->first--;
    curve->count++;
    curve->slope[curve->first] = slope;
    curve->length[curve->first] = length;
    curve->span = (from > 0 ? from : 0) + length;
}

/* A corner of the function. */
struct corner {
    size_t piece; /* that it bounds, on the side away from the point */
    double below, value;
};

/* From the point up to the emptier corner that the envelope keeps. */
static void widen_to_empty(const struct optimum_curve *curve, double below, double value,
                           struct corner *at)
{
    while (at->piece > curve->first &&
           (at->below - below < NOTHING ||
            curve->slope[at->piece - 1] > (value - at->value) / (at->below - below))) {
        at->piece--;
        at->value -= curve->slope[at->piece] * curve->length[at->piece];
        at->below += curve->length[at->piece];
    }
}

static void widen_to_full(const struct optimum_curve *curve, double below, double value,
                          struct corner *at)
{
    size_t last = curve->first + curve->count - 1;
    while (at->piece < last &&
           (below - at->below < NOTHING ||
            curve->slope[at->piece + 1] < (at->value - value) / (below - at->below))) {
        at->piece++;
        at->value += curve->slope[at->piece] * curve->length[at->piece];
        at->below -= curve->length[at->piece];
    }
}

void optimum_curve_lower(struct optimum_curve *curve, double below, double value)
{
    size_t piece = curve->first + curve->count - 1;
    struct corner full = {piece, 0, curve->at_full};
    while (full.piece > curve->first && full.below + curve->length[full.piece] < below) {
        full.value -= curve->slope[full.piece] * curve->length[full.piece];
        full.below += curve->length[full.piece--];
    }
    double length = curve->length[full.piece], slope = curve->slope[full.piece];
    if (full.below + length < below || full.value - slope * (below - full.below) <= value)
        return;
    struct corner empty = {full.piece, full.below + length, full.value - slope * length};
    widen_to_empty(curve, below, value, &empty);
    widen_to_full(curve, below, value, &full);
    if (empty.below - below < NOTHING || below - full.below < NOTHING)
        return; /* an end of the function stays what it is */
    if (empty.piece == full.piece)
        full.piece = open_gap(curve, empty.piece - curve->first + 1);
    empty.piece =
        full.piece - 1 > empty.piece ? close_gap(curve, empty.piece, full.piece) : full.piece - 1;
    curve->slope[empty.piece] = (value - empty.value) / (empty.below - below);
    curve->length[empty.piece] = empty.below - below;
    curve->slope[empty.piece + 1] = (full.value - value) / (below - full.below);
    curve->length[empty.piece + 1] = below - full.below;
}

double optimum_curve_value(const struct optimum_curve *curve, double below)
{
    double value = curve->at_full;
    size_t i = curve->first + curve->count - 1;
    while (i > curve->first && curve->length[i] < below) {
        value -= curve->slope[i] * curve->length[i];
        below -= curve->length[i--];
    }
    return value - curve->slope[i] * below;
}

double optimum_curve_slope(const struct optimum_curve *curve, double below)
{
    size_t i = curve->first + curve->count - 1;
    while (i > curve->first && curve->length[i] < below)
        below -= curve->length[i--];
    return curve->slope[i];
}

double optimum_curve_reach(const struct optimum_curve *curve, double slope)
{
    double reach = 0;
    size_t i = curve->first + curve->count;
    while (i > curve->first && curve->slope[i - 1] > slope)
        reach += curve->length[--i];
    return reach;
}
