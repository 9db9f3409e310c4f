/* test_wald.c - sequential tests keep the error rates that they promise.
 *
 * A. Wald, "Sequential Analysis", 1947 (from memory): with the bounds (1 - b) / a and b / (1 - a),
 * errors of the first kind come at most a / (1 - b) of the time, of the second b / (1 - a). */
#include "core/suite.h"

#include "observe/stat_log.h"
#include "observe/stat_wald.h"

/* A coin of 30 or of 60 in a hundred heads: the first passed bound. */
static bool accepts(int heads_percent, uint64_t *state, int32_t upper_mn, int32_t lower_mn,
                    long *flips)
{
    int32_t sum_mn = 0;
    while (sum_mn > lower_mn && sum_mn < upper_mn) {
        bool head = seeded_next(state) % 100 < (uint64_t)heads_percent;
        sum_mn += head ? stat_ln_ratio_mn(60, 30) : stat_ln_ratio_mn(40, 70);
        (*flips)++;
    }
    return sum_mn >= upper_mn;
}

START_TEST(test_measured_error_rates_stay_within_walds_bounds)
{
    enum { TRIALS = 200000, FALSE_PPM = 10000, MISSED_PPM = 50000 };
    int32_t upper_mn = wald_upper_mn(FALSE_PPM, MISSED_PPM);
    int32_t lower_mn = wald_lower_mn(FALSE_PPM, MISSED_PPM);
    uint64_t state = 1;
    long wrong = 0, missed = 0, flips = 0;
    for (int k = 0; k < TRIALS; k++) {
        wrong += accepts(30, &state, upper_mn, lower_mn, &flips);
        missed += !accepts(60, &state, upper_mn, lower_mn, &flips);
    }
    /* a / (1 - b) = 0.01 / 0.95, b / (1 - a) = 0.05 / 0.99, each and four standard errors */
    ck_assert_double_le((double)wrong, TRIALS * 0.01 / 0.95 + 4 * 46);
    ck_assert_double_le((double)missed, TRIALS * 0.05 / 0.99 + 4 * 98);
    ck_assert_int_gt(wrong, 0);
    ck_assert_int_gt(missed, 0);
    ck_assert_int_lt(flips / (2 * TRIALS), 30);
}
END_TEST

START_TEST(test_bounds_are_the_logarithms_of_walds)
{
    ck_assert_int_le(abs(wald_upper_mn(1000, 10000) - 6898), 2); /* ln 990 */
    ck_assert_int_le(abs(wald_lower_mn(1000, 10000) + 4604), 2); /* ln (0.01 / 0.999) */
}
END_TEST

START_TEST(test_no_observation_decides_alone_and_what_was_accepted_can_be_turned)
{
    int32_t sum_mn = 0;
    bool stands = false;
    ck_assert_int_eq(wald_add(&sum_mn, &stands, 1000000), WALD_GOES_ON);
    ck_assert_int_eq(wald_add(&sum_mn, &stands, 1000000), WALD_ACCEPTED);
    for (int k = 0; k < 100; k++)
        wald_add(&sum_mn, &stands, 1000000);
    ck_assert(stands);
    ck_assert_int_eq(wald_add(&sum_mn, &stands, -1000000), WALD_ACCEPTED);
    ck_assert_int_eq(wald_add(&sum_mn, &stands, -1000000), WALD_ACCEPTED);
    ck_assert_int_eq(wald_add(&sum_mn, &stands, -1000000), WALD_REJECTED);
    ck_assert(!stands);
    ck_assert_int_eq(sum_mn, 0);
}
END_TEST

START_TEST(test_how_sure_rises_with_the_evidence)
{
    uint16_t last = 0;
    for (int32_t sum_mn = -10000; sum_mn <= 15000; sum_mn += 100) {
        ck_assert_int_ge(wald_sure_permille(sum_mn), last);
        last = wald_sure_permille(sum_mn);
    }
    ck_assert_int_ge(wald_sure_permille(6898), 940);
    ck_assert_int_le(wald_sure_permille(0), 30);
    ck_assert_int_le(last, 1000);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_measured_error_rates_stay_within_walds_bounds,
        test_bounds_are_the_logarithms_of_walds,
        test_no_observation_decides_alone_and_what_was_accepted_can_be_turned,
        test_how_sure_rises_with_the_evidence,
    };
    return suite_run("wald", tests, COUNT_OF(tests));
}
