/* stat_log.h - logarithms in whole numbers.
 *
 * Evidence is added up as logarithms of likelihood ratios, in thousandths of a nat, so that the
 * same observations give the same finding, bit for bit, on every processor. */
#ifndef SLUICE_OBSERVE_STAT_LOG_H
#define SLUICE_OBSERVE_STAT_LOG_H

#include <stdint.h>

/* 1000 ln x, x >= 1 (0 counts as 1), within 1. */
int32_t stat_ln_mn(uint64_t x);

/* 1000 ln (a / b). */
int32_t stat_ln_ratio_mn(uint64_t a, uint64_t b);

/* exp(x / 1000) in millionths, x <= 0 (a greater one counts as 0), within 2 in a thousand and 1. */
int32_t stat_exp_ppm(int32_t x_mn);

#endif
