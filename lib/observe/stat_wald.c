/* stat_wald.c - sequential tests. */
#include "observe/stat_wald.h"

#include "observe/stat_log.h"

enum {
    MILLION = 1000000,
    PRIOR_MN = 3912, /* ln 50: such a fault is rare. A judgement, no source */
};

int32_t wald_upper_mn(int32_t false_ppm, int32_t missed_ppm)
{
    return stat_ln_ratio_mn((uint64_t)(MILLION - missed_ppm), (uint64_t)false_ppm);
}

int32_t wald_lower_mn(int32_t false_ppm, int32_t missed_ppm)
{
    return stat_ln_ratio_mn((uint64_t)missed_ppm, (uint64_t)(MILLION - false_ppm));
}

static int32_t within(int32_t value, int32_t least, int32_t most)
{
    return value < least ? least : value > most ? most : value;
}

enum wald_result wald_add(int32_t *sum_mn, bool *stands, int32_t ratio_mn)
{
    int32_t upper_mn = wald_upper_mn(WALD_FALSE_PPM, WALD_MISSED_PPM);
    int32_t lower_mn = wald_lower_mn(WALD_FALSE_PPM, WALD_MISSED_PPM);
    *sum_mn += within(ratio_mn, -WALD_MOST_MN, WALD_MOST_MN);
    *sum_mn = within(*sum_mn, lower_mn, upper_mn + WALD_MOST_MN);
    if (*sum_mn >= upper_mn)
        *stands = true;
    bool ends = *stands ? *sum_mn <= 0 : *sum_mn <= lower_mn;
    if (!ends)
        return *stands ? WALD_ACCEPTED : WALD_GOES_ON;
    *sum_mn = 0;
    *stands = false;
    return WALD_REJECTED;
}

uint16_t wald_sure_permille(int32_t sum_mn)
{
    int32_t odds_mn = sum_mn - PRIOR_MN;
    int64_t small_ppm = stat_exp_ppm(odds_mn < 0 ? odds_mn : -odds_mn);
    int64_t less = 1000 * small_ppm / (MILLION + small_ppm);
    return (uint16_t)(odds_mn < 0 ? less : 1000 - less);
}
