/* pieces.h - one row of days as constant pieces of whole seconds. */
#ifndef SLUICE_REFINE_PIECES_H
#define SLUICE_REFINE_PIECES_H

#include <stdint.h>

enum { REFINE_PIECES_MAX = 3600 };

struct refine_piece {
    int32_t lasts_s;
    double w;
};

struct refine_pieces {
    int count;
    struct refine_piece piece[REFINE_PIECES_MAX];
};

/* Pieces out of `count` samples of `sample_s` each, none negative, whose mean becomes
 * mean_w exactly (as far as a double goes), by one scale for all; but none comes to more
 * than most_w, or the mean. Samples that differ by less than tolerance_w from their
 * piece's first share a piece; levels are rounded to 10 W. Overwrites the samples. */
struct refine_want {
    double mean_w, most_w, tolerance_w;
};
void refine_pieces_of(struct refine_pieces *pieces, double sample_w[], int count, int32_t sample_s,
                      const struct refine_want *want);

#endif
