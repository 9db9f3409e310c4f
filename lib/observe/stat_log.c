/* stat_log.c - logarithms in whole numbers.
 *
 * x = 2^e (1 + f): e ln 2, and ln (1 + f) from a table of 64 steps, straight in between; its
 * bend costs less than (1/64)^2 / 8 = 3e-5. The way back looks for the number with that
 * logarithm. */
#include "observe/stat_log.h"

enum { STEPS = 64, STEP_BITS = 6, FRACTION_BITS = 32, MILLION = 1000000 };

#define LN2_MICRO 693147

/* 1e6 ln (1 + k / 64) */
static const int32_t ln_micro[STEPS + 1] = {
    0,      15504,  30772,  45810,  60625,  75223,  89612,  103797, 117783, 131576, 145182,
    158605, 171850, 184922, 197826, 210565, 223144, 235566, 247836, 259958, 271934, 283768,
    295464, 307025, 318454, 329753, 340927, 351976, 362905, 373716, 384412, 394994, 405465,
    415828, 426084, 436237, 446287, 456237, 466090, 475846, 485508, 495077, 504556, 513946,
    523248, 532465, 541597, 550647, 559616, 568505, 577315, 586049, 594707, 603291, 611802,
    620240, 628609, 636907, 645138, 653301, 661398, 669431, 677399, 685304, 693147,
};

int32_t stat_ln_mn(uint64_t x)
{
    if (x < 2)
        return 0;
    int exponent = 63 - __builtin_clzll(x);
    uint64_t scaled = exponent > FRACTION_BITS ? x >> (exponent - FRACTION_BITS)
                                               : x << (FRACTION_BITS - exponent);
    uint64_t fraction = scaled & ((1ull << FRACTION_BITS) - 1);
    unsigned step = (unsigned)(fraction >> (FRACTION_BITS - STEP_BITS));
    int64_t rest = (int64_t)(fraction & ((1ull << (FRACTION_BITS - STEP_BITS)) - 1));
    int64_t between = ln_micro[step + 1] - ln_micro[step];
    int64_t micro = (int64_t)exponent * LN2_MICRO + ln_micro[step] +
                    ((between * rest) >> (FRACTION_BITS - STEP_BITS));
    return (int32_t)((micro + 500) / 1000);
}

int32_t stat_ln_ratio_mn(uint64_t a, uint64_t b)
{
    return stat_ln_mn(a) - stat_ln_mn(b);
}

int32_t stat_exp_ppm(int32_t x_mn)
{
    /* in millionths of a millionth, so that its logarithm is exact where it is small */
    uint64_t low = 1, high = (uint64_t)MILLION * MILLION;
    int64_t wanted = (int64_t)(x_mn < 0 ? x_mn : 0) + stat_ln_mn(high);
    while (low < high) {
        uint64_t middle = low + (high - low + 1) / 2;
        if (stat_ln_mn(middle) <= wanted)
            low = middle;
        else
            high = middle - 1;
    }
    return (int32_t)((low + MILLION / 2) / MILLION);
}
