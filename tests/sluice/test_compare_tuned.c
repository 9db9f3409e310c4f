/* test_compare_tuned.c - what tuning tells, of a comparison made up for it. */
#include <check.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "sluice/quote/compare.h"

struct told {
    char text[2048];
};

static void note(void *context, const char *line)
{
    struct told *told = context;
    ck_assert_uint_lt(strlen(told->text) + strlen(line) + 2, sizeof told->text);
    strcat(strcat(told->text, line), "\n");
}

static const struct quote_settings quote = {.currency = "$"};

struct made {
    struct settings settings;
    struct compare compare;
    struct compare_verdict verdict;
    struct comparison comparison;
    struct told told;
};

/* A year costs 340 as configured and 300 as tuned; nothing was too cold. */
static struct made *made_new(uint16_t configured, uint16_t tuned)
{
    struct made *made = calloc(1, sizeof *made);
    made->compare.wish.quote = &quote;
    strcpy(made->settings.names[0].name, "water-heater");
    made->compare.fit[WAY_SLUICE].load.start_permille = configured;
    made->compare.fit[WAY_TUNED].load.start_permille = tuned;
    made->compare.result[WAY_SLUICE].mean.cost = 340;
    made->compare.result[WAY_TUNED].mean.cost = 300;
    made->comparison = (struct comparison){
        .settings = &made->settings, .compare = &made->compare, .verdict = &made->verdict};
    return made;
}

static void assert_tuning(struct made *made, const char *text)
{
    compare_tell_tuning(&made->comparison, note, &made->told);
    ck_assert_str_eq(made->told.text, text);
    free(made);
}

START_TEST(test_tuning_says_that_it_replaces_what_is_learnt)
{
    assert_tuning(made_new(RULES_START_LEARNT, 400),
                  "This replaces start_fraction: learnt, which would have cost $40 a year more on "
                  "these days (what is missing of hot water counted). A fixed fraction does not "
                  "follow when the household or the seasons change.\n");
}
END_TEST

START_TEST(test_what_replaces_nothing_learnt_says_nothing)
{
    assert_tuning(made_new(RULES_START_LEARNT, RULES_START_LEARNT), "");
    assert_tuning(made_new(700, 400), "");
    assert_tuning(made_new(700, RULES_START_LEARNT), "");
}
END_TEST

START_TEST(test_only_changed_settings_are_lines_for_the_file)
{
    struct made *made = made_new(RULES_START_LEARNT, 400);
    ck_assert(compare_tell_lines(&made->comparison, WAY_TUNED, note, &made->told));
    ck_assert_str_eq(made->told.text, "loads:\n  water-heater:\n    start_fraction: 40 %\n");
    free(made);
    made = made_new(400, 400);
    ck_assert(!compare_tell_lines(&made->comparison, WAY_TUNED, note, &made->told));
    ck_assert_str_eq(made->told.text, "");
    free(made);
}
END_TEST

START_TEST(test_other_hardware_is_lines_for_the_file)
{
    struct made *made = made_new(400, 400);
    struct load_settings *load = &made->compare.fit[WAY_STAGES].load;
    *load = made->compare.fit[WAY_SLUICE].load;
    load->kind = LOAD_STAGED;
    load->power_w = 3600;
    load->stages = 3;
    for (int s = 0; s < 3; s++)
        load->stage_w[s] = 1200;
    ck_assert(compare_tell_lines(&made->comparison, WAY_STAGES, note, &made->told));
    ck_assert_str_eq(made->told.text, "loads:\n  water-heater:\n    kind: staged\n"
                                      "    stages: [1.2 kW, 1.2 kW, 1.2 kW]\n");
    free(made);
}
END_TEST

int main(void)
{
    TCase *cases = tcase_create("compare_tuned");
    tcase_add_test(cases, test_tuning_says_that_it_replaces_what_is_learnt);
    tcase_add_test(cases, test_what_replaces_nothing_learnt_says_nothing);
    tcase_add_test(cases, test_other_hardware_is_lines_for_the_file);
    tcase_add_test(cases, test_only_changed_settings_are_lines_for_the_file);
    Suite *suite = suite_create("compare_tuned");
    suite_add_tcase(suite, cases);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? EXIT_FAILURE : EXIT_SUCCESS;
}
