/* test_commission_judge.c - what a step of commissioning comes to, from numbers alone. */
#include "sluice/commission/judge.h"

#include "../core/suite.h"

static struct load_evidence seen(enum test_outcome outcome)
{
    return (struct load_evidence){.outcome = outcome,
                                  .power_w = 3600,
                                  .seen = true,
                                  .has_phases = true,
                                  .phase_w = {3600, 0, 0},
                                  .phases = 1};
}

START_TEST(test_an_output_passes_only_where_the_load_draws_as_expected)
{
    static const enum step_outcome wanted[TEST_OUTCOMES] = {
        [TEST_UNCLEAR] = STEP_NOT_NOW,   [TEST_AS_EXPECTED] = STEP_PASS,
        [TEST_LESS] = STEP_FAIL,         [TEST_MORE] = STEP_FAIL,
        [TEST_NO_DRAW] = STEP_FAIL,      [TEST_THERMOSTAT] = STEP_NOT_NOW,
        [TEST_STAYS_ON] = STEP_FAIL,     [TEST_REVERSED] = STEP_FAIL,
        [TEST_OTHER_PHASE] = STEP_FAIL,  [TEST_NOT_SHOWN] = STEP_SKIPPED,
        [TEST_OUTPUT] = STEP_FAIL,       [TEST_REFUSED] = STEP_NOT_NOW,
        [TEST_OVERRULED] = STEP_NOT_NOW, [TEST_INTERRUPTED] = STEP_NOT_NOW,
        [TEST_GONE] = STEP_NOT_NOW,
    };
    for (int k = 0; k < TEST_OUTCOMES; k++) {
        struct load_evidence evidence = seen((enum test_outcome)k);
        ck_assert_int_eq(judge_output(&evidence), wanted[k]);
    }
}
END_TEST

START_TEST(test_a_load_on_the_wrong_phase_shows_the_sign_all_the_same)
{
    struct load_evidence evidence = seen(TEST_OTHER_PHASE);
    ck_assert_int_eq(judge_sign(&evidence), STEP_PASS);
    evidence.outcome = TEST_REVERSED;
    ck_assert_int_eq(judge_sign(&evidence), STEP_FAIL);
}
END_TEST

START_TEST(test_a_load_that_its_own_meter_shows_says_nothing_of_the_grid_meter)
{
    struct load_evidence evidence = seen(TEST_AS_EXPECTED);
    evidence.seen = false;
    ck_assert_int_eq(judge_sign(&evidence), STEP_OPEN);
    ck_assert_int_eq(judge_phase(&evidence, 0), STEP_OPEN);
}
END_TEST

START_TEST(test_no_draw_says_nothing_of_the_sign)
{
    struct load_evidence evidence = seen(TEST_NO_DRAW);
    ck_assert_int_eq(judge_sign(&evidence), STEP_OPEN);
    ck_assert_int_eq(judge_phase(&evidence, 0), STEP_OPEN);
}
END_TEST

START_TEST(test_a_load_shows_its_own_phases_only)
{
    struct load_evidence evidence = seen(TEST_AS_EXPECTED);
    ck_assert_int_eq(judge_phase(&evidence, 0), STEP_PASS);
    ck_assert_int_eq(judge_phase(&evidence, 1), STEP_OPEN);
    evidence.has_phases = false;
    ck_assert_int_eq(judge_phase(&evidence, 0), STEP_OPEN);
}
END_TEST

START_TEST(test_of_three_phases_the_dead_one_fails)
{
    struct load_evidence evidence = seen(TEST_LESS);
    evidence.phases = 7;
    evidence.phase_w[1] = 3600;
    ck_assert_int_eq(judge_phase(&evidence, 0), STEP_PASS);
    ck_assert_int_eq(judge_phase(&evidence, 1), STEP_PASS);
    ck_assert_int_eq(judge_phase(&evidence, 2), STEP_FAIL);
}
END_TEST

START_TEST(test_a_load_that_shows_elsewhere_fails_its_phase)
{
    struct load_evidence evidence = seen(TEST_OTHER_PHASE);
    ck_assert_int_eq(judge_phase(&evidence, 0), STEP_FAIL);
}
END_TEST

START_TEST(test_voltage_is_sound_to_a_tenth_from_nominal)
{
    ck_assert(judge_voltage(253000, 230000));
    ck_assert(judge_voltage(207000, 230000));
    ck_assert(!judge_voltage(253001, 230000));
    ck_assert(!judge_voltage(206999, 230000));
}
END_TEST

static enum step_outcome solar(int64_t power_w, int hour)
{
    char says[400];
    struct text text = text_in(says, sizeof(says));
    enum step_outcome outcome = judge_solar(power_w, hour, &text);
    ck_assert(!text.full && text.used > 0);
    return outcome;
}

START_TEST(test_the_sun_shines_by_day_and_not_at_night)
{
    ck_assert_int_eq(solar(2400, 12), STEP_PASS);
    ck_assert_int_eq(solar(60, 6), STEP_PASS);
    ck_assert_int_eq(solar(0, 12), STEP_NOT_NOW);
    ck_assert_int_eq(solar(0, 6), STEP_NOT_NOW);
    ck_assert_int_eq(solar(-20, 23), STEP_NOT_NOW);
    ck_assert_int_eq(solar(400, 23), STEP_FAIL);
    ck_assert_int_eq(solar(400, 3), STEP_FAIL);
    ck_assert_int_eq(solar(-400, 12), STEP_FAIL);
}
END_TEST

START_TEST(test_no_house_feeds_besides_its_sun_and_battery)
{
    ck_assert(judge_balance(-2000, 2400, 0));
    ck_assert(judge_balance(-2000, 0, -2400));
    ck_assert(judge_balance(300, 2000, 2200));
    ck_assert(!judge_balance(-2000, 0, 0));
    ck_assert(!judge_balance(300, 0, 2200));
}
END_TEST

START_TEST(test_each_outcome_is_found_by_its_name)
{
    for (int k = STEP_PASS; k < STEP_OUTCOMES; k++)
        ck_assert_int_eq(step_outcome_named(step_outcome_name((enum step_outcome)k)), k);
    ck_assert_int_eq(step_outcome_named("good"), STEP_OPEN);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_an_output_passes_only_where_the_load_draws_as_expected,
        test_a_load_on_the_wrong_phase_shows_the_sign_all_the_same,
        test_a_load_that_its_own_meter_shows_says_nothing_of_the_grid_meter,
        test_no_draw_says_nothing_of_the_sign,
        test_a_load_shows_its_own_phases_only,
        test_of_three_phases_the_dead_one_fails,
        test_a_load_that_shows_elsewhere_fails_its_phase,
        test_voltage_is_sound_to_a_tenth_from_nominal,
        test_the_sun_shines_by_day_and_not_at_night,
        test_no_house_feeds_besides_its_sun_and_battery,
        test_each_outcome_is_found_by_its_name,
    };
    return suite_run("commission_judge", tests, COUNT_OF(tests));
}
