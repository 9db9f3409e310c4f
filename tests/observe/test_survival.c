/* test_survival.c - how long a thermostat stays open. */
#include "core/suite.h"

#include "observe/stat_survival.h"

enum { HOUR = 3600000, STANDING = 20 * HOUR };

START_TEST(test_without_experience_physics_says)
{
    struct stat_survival none = {0};
    int64_t last = SURVIVAL_WHOLE;
    for (int hours = 0; hours < 200; hours++) {
        int64_t now = survival_at(&none, STANDING, (int64_t)hours * HOUR);
        ck_assert_int_le(now, last);
        ck_assert_int_gt(now, 0);
        last = now;
    }
    ck_assert_int_gt(survival_at(&none, STANDING, 4ll * HOUR), SURVIVAL_WHOLE / 100 * 95);
    /* exp(-1) at its standing time */
    ck_assert_int_le(llabs(survival_at(&none, STANDING, STANDING) - 368000000), 10000000);
    ck_assert_int_lt(survival_at(&none, STANDING, 48ll * HOUR), SURVIVAL_WHOLE / 100000);
}
END_TEST

START_TEST(test_a_house_that_draws_each_morning_is_learnt)
{
    struct stat_survival house = {0}, none = {0};
    for (int k = 0; k < 60; k++)
        survival_note(&house, survival_spell_bit(5ll * HOUR), 7ll * HOUR);
    ck_assert_int_gt(survival_at(&house, STANDING, 4ll * HOUR), SURVIVAL_WHOLE / 10 * 9);
    ck_assert_int_lt(survival_at(&house, STANDING, 12ll * HOUR), SURVIVAL_WHOLE / 20);
    ck_assert_int_lt(survival_at(&house, STANDING, 12ll * HOUR),
                     survival_at(&none, STANDING, 12ll * HOUR) / 10);
}
END_TEST

START_TEST(test_what_is_learnt_is_the_share_that_lasted)
{
    struct stat_survival house = {0};
    for (int k = 0; k < 2000; k++)
        survival_note(&house, survival_spell_bit(4ll * HOUR) * (k % 10 >= 3),
                      k % 10 < 3 ? 4ll * HOUR : 9ll * HOUR);
    int64_t lasted = survival_at(&house, 1000ll * HOUR, 4ll * HOUR);
    ck_assert_int_le(llabs(lasted - SURVIVAL_WHOLE / 10 * 7), SURVIVAL_WHOLE / 30);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_without_experience_physics_says,
        test_a_house_that_draws_each_morning_is_learnt,
        test_what_is_learnt_is_the_share_that_lasted,
    };
    return suite_run("survival", tests, COUNT_OF(tests));
}
