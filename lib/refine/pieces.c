/* pieces.c - fewer, rounder levels with the same energy.
 *
 * A controller that is asked only when something changes is asked as often as the levels
 * change, so levels that differ by less than matters are made one, and round. What
 * rounding gave or took goes into the next piece's level before that is rounded, and the
 * rest at the end into the longest piece, where it shows least. */
#include "refine/pieces.h"

#include <math.h>
#include <stdbool.h>

static const double ROUND_W = 10;

static struct refine_piece *longest(struct refine_pieces *pieces)
{
    struct refine_piece *longest = pieces->piece;
    for (int k = 1; k < pieces->count; k++)
        if (pieces->piece[k].lasts_s > longest->lasts_s)
            longest = &pieces->piece[k];
    return longest;
}

/* False: that would make a level negative. */
static bool settle(struct refine_pieces *pieces, double energy_ws)
{
    double sum_ws = 0;
    for (int k = 0; k < pieces->count; k++)
        sum_ws += pieces->piece[k].w * pieces->piece[k].lasts_s;
    struct refine_piece *payer = longest(pieces);
    double w = payer->w + (energy_ws - sum_ws) / payer->lasts_s;
    if (w < 0)
        return false;
    payer->w = w;
    return true;
}

/* The end of the samples that share a piece with the first. */
static int end_of_piece(const double sample_w[], int first, int count, double tolerance_w)
{
    int end = first + 1;
    while (end < count && fabs(sample_w[end] - sample_w[first]) < tolerance_w)
        end++;
    return end;
}

static void gather(struct refine_pieces *pieces, const double sample_w[], int count,
                   int32_t sample_s, double tolerance_w, double round_w)
{
    double owed_ws = 0;
    pieces->count = 0;
    for (int first = 0, end; first < count; first = end) {
        double sum = 0;
        end = end_of_piece(sample_w, first, count, tolerance_w);
        for (int k = first; k < end; k++)
            sum += sample_w[k];
        int32_t lasts_s = (end - first) * sample_s;
        double exact_w = sum / (end - first), w = exact_w;
        if (round_w > 0)
            w = fmax(0, round((exact_w + owed_ws / lasts_s) / round_w) * round_w);
        owed_ws += (exact_w - w) * lasts_s;
        pieces->piece[pieces->count++] = (struct refine_piece){lasts_s, w};
    }
}

/* What is cut off at the top is made good by a larger scale, and so on: a few rounds
 * bring it near enough for settle(). False: there is nothing to be scaled. */
static bool scale(double sample_w[], int count, double mean_w, double most_w)
{
    for (int round = 0; round < 6; round++) {
        double sum = 0, most = 0;
        for (int k = 0; k < count; k++)
            sum += sample_w[k];
        if (sum <= 0)
            return false;
        double factor = mean_w * count / sum;
        for (int k = 0; k < count; k++) {
            sample_w[k] *= factor;
            most = fmax(most, sample_w[k]);
        }
        if (most <= most_w)
            break;
        for (int k = 0; k < count; k++)
            sample_w[k] = fmin(sample_w[k], most_w);
    }
    return true;
}

void refine_pieces_of(struct refine_pieces *pieces, double sample_w[], int count, int32_t sample_s,
                      const struct refine_want *want)
{
    double energy_ws = want->mean_w * count * sample_s;
    pieces->count = 1;
    pieces->piece[0] = (struct refine_piece){count * sample_s, want->mean_w};
    if (want->mean_w < ROUND_W ||
        !scale(sample_w, count, want->mean_w, fmax(want->most_w, want->mean_w)))
        return;
    gather(pieces, sample_w, count, sample_s, want->tolerance_w, ROUND_W);
    if (settle(pieces, energy_ws))
        return;
    gather(pieces, sample_w, count, sample_s, want->tolerance_w, 0);
    settle(pieces, energy_ws);
}
