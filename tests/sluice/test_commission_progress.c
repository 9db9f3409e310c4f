/* test_commission_progress.c - what is kept of commissioning, and what is taken for it. */
#include "sluice/commission/progress.h"

#include "../core/suite.h"
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static struct progress progress;

static void begin(void)
{
    progress = (struct progress){.root = progress_new("Wattle house")};
    strcpy(progress.settings, "one");
}

static char *bytes(void)
{
    return cJSON_Print(progress.root);
}

static void refused(const char *text, const char *wanted)
{
    struct trouble trouble;
    ck_assert_ptr_null(progress_parse(text, "Wattle house", &trouble));
    ck_assert_msg(strstr(trouble.text, wanted), "%s", trouble.text);
}

START_TEST(test_a_result_comes_back_as_it_was_put)
{
    struct trouble trouble;
    struct step_result result = {0};
    const char *time = "";
    begin();
    step_end(&result, STEP_FAIL, "no new reading");
    step_caution(&result, "isolate");
    progress_put(&progress, "meter", &result, "2026-01-14T10:00:00+11:00");
    char *kept = bytes();
    progress_close(&progress);
    progress.root = progress_parse(kept, "Wattle house", &trouble);
    free(kept);
    ck_assert(progress_result(&progress, "meter", &result, &time));
    ck_assert_int_eq(result.outcome, STEP_FAIL);
    ck_assert_str_eq(result.evidence, "no new reading");
    ck_assert_str_eq(result.caution, "isolate");
    ck_assert_str_eq(time, "2026-01-14T10:00:00+11:00");
    progress_forget(&progress, "meter");
    ck_assert(!progress_result(&progress, "meter", &result, NULL));
    progress_close(&progress);
}
END_TEST

START_TEST(test_what_was_done_under_other_settings_is_not_done)
{
    struct step_result result = {.outcome = STEP_PASS};
    struct load_evidence evidence = {.outcome = TEST_AS_EXPECTED};
    const char *says;
    begin();
    progress_put(&progress, "sign", &result, "");
    progress_put_test(&progress, "heater", &evidence, "draws");
    ck_assert(progress_result(&progress, "sign", &result, NULL));
    ck_assert(progress_test(&progress, "heater", &evidence, &says));
    strcpy(progress.settings, "two");
    ck_assert(!progress_result(&progress, "sign", &result, NULL));
    ck_assert(!progress_test(&progress, "heater", &evidence, &says));
    progress_close(&progress);
}
END_TEST

START_TEST(test_a_test_comes_back_with_its_phases)
{
    struct load_evidence evidence = {.outcome = TEST_OTHER_PHASE,
                                     .power_w = 3590,
                                     .seen = true,
                                     .has_phases = true,
                                     .phase_w = {0, -4, 3590},
                                     .phases = 4};
    const char *says;
    begin();
    progress_put_test(&progress, "heater", &evidence, "on L3");
    memset(&evidence, 0, sizeof(evidence));
    ck_assert(progress_test(&progress, "heater", &evidence, &says));
    ck_assert_int_eq(evidence.outcome, TEST_OTHER_PHASE);
    ck_assert_int_eq(evidence.power_w, 3590);
    ck_assert(evidence.seen && evidence.has_phases);
    ck_assert_int_eq(evidence.phase_w[1], -4);
    ck_assert_int_eq(evidence.phase_w[2], 3590);
    ck_assert_int_eq(evidence.phases, 4);
    ck_assert_str_eq(says, "on L3");
    progress_forget_test(&progress, NULL);
    ck_assert(!progress_test(&progress, "heater", &evidence, &says));
    progress_close(&progress);
}
END_TEST

START_TEST(test_a_file_cut_off_anywhere_is_refused)
{
    struct step_result result = {.outcome = STEP_PASS};
    begin();
    progress_put(&progress, "sign", &result, "");
    char *kept = bytes();
    for (size_t length = strlen(kept); length-- > 0;) {
        kept[length] = '\0';
        refused(kept, "cut off");
    }
    free(kept);
    progress_close(&progress);
}
END_TEST

START_TEST(test_what_is_somebody_elses_is_refused)
{
    refused("[]", "not of");
    refused("{\"format\": \"another\"}", "not of");
    refused("site:\n  name: Wattle house\n", "not JSON");
    refused("{\"format\": \"sluice commission\", \"version\": 2}", "another version");
    refused("{\"format\": \"sluice commission\", \"version\": 1}", "no results");
    refused("{\"format\": \"sluice commission\", \"version\": 1, \"results\": {}, \"tests\": {}, "
            "\"site\": \"Gum house\"}",
            "another house, \"Gum house\"");
}
END_TEST

START_TEST(test_results_of_the_wrong_type_are_not_done)
{
    struct trouble trouble;
    struct step_result result;
    struct load_evidence evidence;
    const char *says;
    begin();
    progress_close(&progress);
    progress.root = progress_parse(
        "{\"format\": \"sluice commission\", \"version\": 1, \"site\": \"Wattle house\", "
        "\"results\": {\"sign\": 3, \"meter\": {\"settings\": \"one\", \"outcome\": 4}}, "
        "\"tests\": {\"heater\": [1]}}",
        "Wattle house", &trouble);
    ck_assert_ptr_nonnull(progress.root);
    ck_assert(!progress_result(&progress, "sign", &result, NULL));
    ck_assert(!progress_result(&progress, "meter", &result, NULL));
    ck_assert(!progress_test(&progress, "heater", &evidence, &says));
    progress_close(&progress);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_result_comes_back_as_it_was_put, test_what_was_done_under_other_settings_is_not_done,
        test_a_test_comes_back_with_its_phases, test_a_file_cut_off_anywhere_is_refused,
        test_what_is_somebody_elses_is_refused, test_results_of_the_wrong_type_are_not_done,
    };
    return suite_run("commission_progress", tests, COUNT_OF(tests));
}
