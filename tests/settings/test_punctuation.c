/* test_punctuation.c - a colon, comma, quote or bracket that is missing is named where it is
 * missing, not where the parser gave up. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

static const char house[] = "site:\n"
                            "  name: Wattle house\n"
                            "  timezone: Australia/Sydney\n"
                            "  supply_limit: 63 A\n"
                            "buses:\n"
                            "  board: {port: /dev/null, baud: 9600}\n"
                            "meters:\n"
                            "  grid: {role: grid, bus: board, unit: 2, map: sunspec}\n"
                            "loads:\n"
                            "  heater:\n"
                            "    power: 3.6 kW\n"
                            "    thermostat: yes\n"
                            "    output: {bus: board, unit: 10, address: 0}\n"
                            "    floors:\n"
                            "      - {amount: 3 h, by: \"17:00\"}\n"
                            "      - amount: 2 h\n"
                            "        by: \"09:00\" # before work\n"
                            "  pump:\n"
                            "    power: 1.1 kW\n"
                            "    output: {bus: board, unit: 10, address: 1}\n";

static const struct mistake rows[] = {
    {"site:", "site", "site", "is a colon missing after \"site\"?"},
    {"loads:", "loads", "loads", "is a colon missing after \"loads\"?"},
    {"  heater:", "  heater", "heater", "is a colon missing after \"heater\"?"},
    {"thermostat: yes", "thermostat yes", "thermostat", "is a colon missing after \"thermostat\"?"},
    {"thermostat: yes", "thermostat yes # all day\n\n    # wired so", "thermostat",
     "is a colon missing after \"thermostat\"?"},
    {"    output: {bus: board, unit: 10, address: 0}", "    output {bus: board, unit: 10}",
     "output", "is a colon missing after \"output\"?"},
    {"floors:", "floors", "floors", "is a colon missing after \"floors\"?"},
    {"- amount: 2 h", "- amount 2 h", "amount 2 h", "is a colon missing after \"amount\"?"},
    {"address: 1}\n", "address: 1}\n    hours", "hours", "is a colon missing after \"hours\"?"},
    {"null, baud", "null baud", "baud", "is a comma missing before \"baud\"?"},
    {"by: \"17:00\"}", "by: \"17:00\" days: mon-fri}", "days",
     "is a comma missing before \"days\"?"},
    {"Wattle house", "\"Wattle house", "\"Wattle",
     "the quote opened here is not closed: is one missing?"},
    {"\"17:00\"}", "\"17:00}", "\"17:00}", "the quote opened here is not closed: is one missing?"},
    {"Wattle house", "'Wattle's house'", "'Wattle's",
     "the single quote opened here ends early: put a text that has an apostrophe in double "
     "quotes"},
    {"Wattle house", "\"The \"Wattle\" house\"", "\"The",
     "the quote opened here ends early: is one missing, or one too many?"},
    {"address: 0}", "address: 0", "{bus: board, unit: 10, address: 0",
     "the \"{\" opened here is not closed: is a \"}\" missing?"},
    {"address: 1}", "address: 1", "{bus: board, unit: 10, address: 1",
     "the \"{\" opened here is not closed: is a \"}\" missing?"},
    {"\"17:00\"}", "\"17:00\", days: [mon, tue}", "[mon",
     "the \"[\" opened here is not closed: is a \"]\" missing?"},
    {"address: 0}", "address: 0}}", "}\n    floors",
     "this \"}\" closes nothing: is it one too many, or a \"{\" missing?"},
};

START_TEST(test_a_missing_sign_is_named_where_it_is_missing)
{
    char *text = edited(house, rows[_i].find, rows[_i].write);
    expect_only(text, rows[_i].at, rows[_i].says);
    free(text);
}
END_TEST

/* What is as YAML wants it is not taken for the slip that follows. */
START_TEST(test_signs_that_are_right_are_passed_over)
{
    char *right = edited(house, "Wattle house",
                         "'it''s # \"ours\"' # {not this\n"
                         "  supply_limit: 63 A\n"
                         "groups: {heater: {power: 1 kW,\n"
                         "    title: \"say \\\"x\\\"\",\n"
                         "    floors: [\n"
                         "      {amount: 1 h}\n"
                         "    ]}\n"
                         "}\n"
                         "storage:\n"
                         "  path: it's { a }x");
    char *text = edited(right, "thermostat: yes", "thermostat yes");
    expect_only(text, "thermostat yes", "is a colon missing after \"thermostat\"?");
    free(text);
    free(right);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("punctuation");
    TCase *tcase = tcase_create("punctuation");
    tcase_add_loop_test(tcase, test_a_missing_sign_is_named_where_it_is_missing, 0, COUNT_OF(rows));
    tcase_add_test(tcase, test_signs_that_are_right_are_passed_over);
    suite_add_tcase(suite, tcase);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
