/* optimum_curve.h - a convex, piecewise linear function of the heat in a tank.
 *
 * Kept as its slopes and how far each holds, from the emptiest tank to the full one;
 * slopes rise. The full end is where the function's value is known. No grid: every
 * operation below is exact up to rounding. */
#ifndef SLUICE_QUOTE_OPTIMUM_CURVE_H
#define SLUICE_QUOTE_OPTIMUM_CURVE_H

#include <stdbool.h>
#include <stddef.h>

struct optimum_curve {
    double *slope, *length; /* [room]; pieces are at first .. first + count - 1 */
    size_t room, first, count;
    double at_full; /* the value at the full end */
    double span;    /* of all pieces, kept along */
};

/* One piece. False: out of memory. */
bool optimum_curve_init(struct optimum_curve *curve, double slope, double length);
void optimum_curve_free(struct optimum_curve *curve);

/* Makes sure that `more` pieces find place. False: out of memory. */
bool optimum_curve_reserve(struct optimum_curve *curve, size_t more);

/* Puts a piece where its slope belongs and lengthens the function at its empty end: what
 * minimising over an amount between 0 and `length` at this price does (infimal
 * convolution). Place must have been reserved. */
void optimum_curve_insert(struct optimum_curve *curve, double slope, double length);

/* Takes this length off the full end; at_full follows. */
void optimum_curve_cut_full(struct optimum_curve *curve, double length);

/* Sums the span anew, before rounding adds up. */
void optimum_curve_measure(struct optimum_curve *curve);

/* Gives the function this length by cutting or lengthening its empty end. */
void optimum_curve_fit(struct optimum_curve *curve, double length);

/* Maps the slopes that lie farther than `from` from the full end to
 * slope * kept + added, and stretches their lengths by 1 / kept; kept > 0. One piece must
 * have been reserved. */
void optimum_curve_bend(struct optimum_curve *curve, double from, double kept, double added);

/* Everything farther than `from` from the full end becomes one piece. */
void optimum_curve_straighten(struct optimum_curve *curve, double from, double slope,
                              double length);

/* The greatest convex function below this one and the point; the ends stay. One piece
 * must have been reserved. */
void optimum_curve_lower(struct optimum_curve *curve, double below, double value);

/* At `below` from the full end. */
double optimum_curve_value(const struct optimum_curve *curve, double below);
double optimum_curve_slope(const struct optimum_curve *curve, double below);

/* How far from the full end slopes are above `slope`. */
double optimum_curve_reach(const struct optimum_curve *curve, double slope);

#endif
