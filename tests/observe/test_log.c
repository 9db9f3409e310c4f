/* test_log.c - the integer logarithm against the C library's. */
#include "core/suite.h"

#include <inttypes.h>
#include <math.h>

#include "observe/stat_log.h"

static void agrees(uint64_t x)
{
    double right = 1000 * log((double)x);
    ck_assert_msg(fabs(stat_ln_mn(x) - right) <= 1, "ln %" PRIu64 ": %d, not %.3f", x,
                  stat_ln_mn(x), right);
}

START_TEST(test_logarithms_are_within_a_thousandth_of_the_c_library)
{
    for (uint64_t x = 1; x < 100000; x++)
        agrees(x);
    for (int bit = 17; bit < 64; bit++)
        for (uint64_t k = 0; k < 1000; k++)
            agrees((1ull << bit) + (1ull << bit) / 1000 * k + k);
    agrees(UINT64_MAX);
    ck_assert_int_eq(stat_ln_mn(0), 0);
    ck_assert_int_eq(stat_ln_ratio_mn(1000, 1000), 0);
    ck_assert_int_eq(stat_ln_ratio_mn(1, 100), -4605);
}
END_TEST

START_TEST(test_the_way_back_is_within_two_in_a_thousand)
{
    for (int32_t x = -14000; x <= 0; x++) {
        double right = 1e6 * exp(x / 1000.0);
        ck_assert_msg(fabs(stat_exp_ppm(x) - right) <= 1 + right / 500, "exp %d: %d, not %.3f", x,
                      stat_exp_ppm(x), right);
    }
    ck_assert_int_eq(stat_exp_ppm(0), 1000000);
    ck_assert_int_eq(stat_exp_ppm(5), 1000000);
    ck_assert_int_eq(stat_exp_ppm(-1000000), 0);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_logarithms_are_within_a_thousandth_of_the_c_library,
        test_the_way_back_is_within_two_in_a_thousand,
    };
    return suite_run("log", tests, COUNT_OF(tests));
}
