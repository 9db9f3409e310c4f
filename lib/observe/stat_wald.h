/* stat_wald.h - a verdict from many observations, none of which decides alone.
 *
 * The sequential probability ratio test (A. Wald, "Sequential Analysis", Wiley 1947, chapter 3):
 * the logarithms of the likelihood ratios of two hypotheses are added up. The first is accepted
 * when the sum passes ln((1 - b) / a), the second when it falls below ln(b / (1 - a)); errors of
 * the first kind are then at most a / (1 - b), of the second b / (1 - a). A fault can begin at
 * any time, so after the second was accepted the test begins anew; and what was accepted can be
 * turned by evidence, so the sum goes on, within bounds. */
#ifndef SLUICE_OBSERVE_STAT_WALD_H
#define SLUICE_OBSERVE_STAT_WALD_H

#include <stdbool.h>
#include <stdint.h>

enum {
    WALD_FALSE_PPM = 1000,   /* a: a fault accepted that is none */
    WALD_MISSED_PPM = 10000, /* b */
    WALD_MOST_MN = 4605,     /* ln 100: no observation says more. Whatever else may have happened */
};

enum wald_result { WALD_GOES_ON, WALD_ACCEPTED, WALD_REJECTED };

int32_t wald_upper_mn(int32_t false_ppm, int32_t missed_ppm);
int32_t wald_lower_mn(int32_t false_ppm, int32_t missed_ppm);

/* Adds one observation. REJECTED: the sum has begun anew. An accepted one stays so (the sum is
 * bounded, `stands` is true) until the sum falls to 0. */
enum wald_result wald_add(int32_t *sum_mn, bool *stands, int32_t ratio_mn);

/* How sure, permille, given how rare such a fault is among all that is tested. */
uint16_t wald_sure_permille(int32_t sum_mn);

#endif
