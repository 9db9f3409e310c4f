/* test_indent.c - a line that begins a blank too early or too late: which one it is, what
 * stands above it, and how far it should be indented. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

/* The house of these tests, in lines of its own. */
static const char lines[] = "site:\n"
                            "  timezone: Australia/Sydney\n"
                            "  supply_limit: 63 A\n"
                            "buses:\n"
                            "  board:\n"
                            "    port: /dev/null\n"
                            "meters:\n"
                            "  grid: {role: grid, bus: board, unit: 2, map: sunspec}\n"
                            "loads:\n"
                            "  heater:\n"
                            "    power: 3.6 kW\n"
                            "    thermostat: yes\n"
                            "    output:\n"
                            "      bus: board\n"
                            "      unit: 10\n"
                            "      address: 0\n"
                            "    floors:\n"
                            "      - amount: 3 h\n"
                            "        by: \"17:00\"\n"
                            "  pump:\n"
                            "    power: 1.1 kW\n"
                            "    output: {bus: board, unit: 10, address: 1}\n";

static const struct mistake rows[] = {
    /* no YAML any more */
    {"    thermostat: yes", "     thermostat: yes", "thermostat: yes",
     "\"thermostat\" is indented by 5 spaces, and \"power\" above it (line 11) by 4: if they "
     "belong "
     "together, indent it by 4"},
    {"    thermostat: yes", "   thermostat: yes", "thermostat: yes",
     "\"thermostat\" is indented by 3 spaces, and \"power\" above it (line 11) by 4: if they "
     "belong "
     "together, indent it by 4"},
    {"        by:", "       by:", "by:",
     "\"by\" is indented by 7 spaces, and \"amount\" above it (line 18) by 8: if they belong "
     "together, indent it by 8"},
    {"        by:", "      by:", "by:",
     "\"by\" is indented by 6 spaces, and \"amount\" above it (line 18) by 8: if they belong "
     "together, indent it by 8"},
    {"      - amount: 3 h\n        by:", "      -\n        amount: 3 h\n       by:", "by:",
     "\"by\" is indented by 7 spaces, and \"amount\" above it (line 19) by 8: if they belong "
     "together, indent it by 8"},
    {"  pump:", " pump:", "pump:",
     "\"pump\" is indented by 1 space, and \"heater\" above it (line 10) by 2: if they belong "
     "together, indent it by 2"},
    {"      unit: 10", "\t  unit: 10", "\t  unit", "a tab cannot indent: use spaces"},
    {"      unit: 10", "    \tunit: 10", "\tunit", "a tab cannot indent: use spaces"},
    {"power: 3.6 kW", "power:3.6 kW", "power:3.6",
     "put a space after the colon: \"power: 3.6 kW\""},
    /* YAML, and not what was meant */
    {"    thermostat: yes\n    output", "  thermostat: yes\n    output", "output:\n      bus",
     "\"output\" is indented by 4 spaces, and \"thermostat\" above it (line 12) by 2: if they "
     "belong "
     "together, indent it by 2"},
    {"      address: 0\n", "      address: 0\n      thermostat: no\n", "thermostat: no",
     "output has no setting \"thermostat\"; it belongs to \"heater\" (line 10): indent it by 4 "
     "spaces"},
    {"    output: {bus: board, unit: 10, address: 1}\n",
     "    output: {bus: board, unit: 10, address: 1}\n  hours: \"08:00-20:00\"\n", "hours",
     "\"hours\" is a setting, not a name under loads; it belongs to \"pump\" (line 20): indent it "
     "by "
     "4 "
     "spaces"},
    {"  supply_limit: 63 A\n", "  supply_limit: 63 A\nvoltage: 240 V\n", "voltage",
     "the file has no setting \"voltage\"; it belongs to \"site\" (line 1): indent it by 2 spaces"},
    {"        by: \"17:00\"\n", "        by: \"17:00\"\n    days: mon-fri\n", "days",
     "heater has no setting \"days\"; it belongs to \"floors\" (line 17): indent it by 8 spaces"},
    {"  pump:\n    power: 1.1 kW\n    output: {", "    pump:\n      power: 1.1 kW\n      output: {",
     "pump:",
     "heater has no setting \"pump\"; it belongs to \"loads\" (line 9): indent it by 2 spaces"},
    {"  supply_limit: 63 A\n", "  supply_limit: 63 A\n  storage:\n    history: 30 d\n", "storage",
     "site has no setting \"storage\"; it is a section of its own: don't indent it"},
    /* what is required: that its section lacks it goes without saying */
    {"      address: 0\n", "    address: 0\n", "address: 0",
     "heater has no setting \"address\"; it belongs to \"output\" (line 13): indent it by 6 "
     "spaces"},
    {"  supply_limit: 63 A\n", "supply_limit: 63 A\n", "supply_limit",
     "the file has no setting \"supply_limit\"; it belongs to \"site\" (line 1): indent it by 2 "
     "spaces"},
    {"    power: 3.6 kW\n    thermostat: yes\n    output:\n",
     "    thermostat: yes\n    output:\n      power: 3.6 kW\n", "power: 3.6",
     "output has no setting \"power\"; it belongs to \"heater\" (line 10): indent it by 4 spaces"},
};

START_TEST(test_a_line_out_of_place_is_named_with_its_place)
{
    char *text = edited(lines, "", "");
    settings_free(load_good(text));
    free(text);
    text = edited(lines, rows[_i].find, rows[_i].write);
    expect_only(text, rows[_i].at, rows[_i].says);
    free(text);
}
END_TEST

START_TEST(test_settings_beside_their_load_are_its_settings_one_by_one)
{
    struct settings_troubles troubles;
    char *text = edited(
        lines, "  pump:\n    power: 1.1 kW\n    output: {bus: board, unit: 10, address: 1}\n",
        "  pump:\n  power: 1.1 kW\n  output: {bus: board, unit: 10, address: 1}\n");
    ck_assert_ptr_null(load_text(text, &troubles));
    ck_assert_int_eq(troubles.count, 2);
    ck_assert_str_eq(troubles.item[0].text,
                     "\"power\" is a setting, not a name under loads; it belongs to \"pump\" (line "
                     "20): indent it by 4 spaces");
    ck_assert_str_eq(
        troubles.item[1].text,
        "\"output\" is a setting, not a name under loads; it belongs to \"pump\" (line "
        "20): indent it by 4 spaces");
    settings_troubles_free(&troubles);
    free(text);
}
END_TEST

START_TEST(test_loads_that_are_not_indented_belong_to_loads)
{
    char *text =
        edited(lines, "  pump:\n    power: 1.1 kW\n    output", "pump:\n  power: 1.1 kW\n  output");
    expect_only(text, "pump",
                "the file has no setting \"pump\"; it belongs to \"loads\" (line 9): indent it by "
                "2 spaces");
    free(text);
}
END_TEST

START_TEST(test_a_load_as_far_in_as_its_settings_is_said_once)
{
    char *text = edited(lines, "  pump:\n", "    pump:\n");
    expect_only(
        text, "pump",
        "\"pump\" looks indented too far: what follows it, \"heater\" (line 10) has already; "
        "indent it by 2 spaces");
    free(text);
    text = edited(lines, "    thermostat: yes\n", "    title: \"\"\n    power: 2 kW\n");
    expect_only(text, "power: 2", "\"power\" is here twice; the first is at 11:5");
    free(text);
}
END_TEST

START_TEST(test_a_load_may_be_called_as_a_setting_is)
{
    char *text = edited(lines, "  pump:\n", "  water:\n");
    settings_free(load_good(text));
    free(text);
}
END_TEST

int main(void)
{
    Suite *suite = suite_create("indent");
    TCase *tcase = tcase_create("indent");
    tcase_add_loop_test(tcase, test_a_line_out_of_place_is_named_with_its_place, 0, COUNT_OF(rows));
    tcase_add_test(tcase, test_settings_beside_their_load_are_its_settings_one_by_one);
    tcase_add_test(tcase, test_loads_that_are_not_indented_belong_to_loads);
    tcase_add_test(tcase, test_a_load_as_far_in_as_its_settings_is_said_once);
    tcase_add_test(tcase, test_a_load_may_be_called_as_a_setting_is);
    suite_add_tcase(suite, tcase);
    SRunner *runner = srunner_create(suite);
    srunner_run_all(runner, CK_NORMAL);
    int failed = srunner_ntests_failed(runner);
    srunner_free(runner);
    return failed ? 1 : 0;
}
