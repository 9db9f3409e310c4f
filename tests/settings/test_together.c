/* test_together.c - what no single row can say: settings that do not suit each other,
 * and many mistakes at once.
 *
 * A mistake is made in a good house by replacing one text with another. Its place is
 * where the marked text stands: in what was put there, or else wherever it is in the
 * file. Nothing else may be said. */
#include <string.h>

#include "desk.h"

struct change {
    const char *was, *is; /* in `house` */
    const char *at;       /* the marked text; NULL: the beginning of `is` */
    const char *says;
};

static size_t offset_of(const struct change *change, const char *text)
{
    const char *inside = change->at ? strstr(change->is, change->at) : change->is;
    const char *anywhere = change->at ? strstr(text, change->at) : NULL;
    if (inside)
        return (size_t)(strstr(house, change->was) - house) + (size_t)(inside - change->is);
    ck_assert_msg(anywhere != NULL, "\"%s\" is nowhere", change->at);
    return (size_t)(anywhere - text);
}

static void refuses(const struct change *change)
{
    struct desk desk;
    int line, column, at_line = 0, at_column = 0;
    char *text = replaced(house, change->was, change->is);
    place_of_offset(text, offset_of(change, text), &line, &column);
    desk_load_text(&desk, text);
    const struct trouble *found = desk.troubles.item;
    ck_assert_msg(desk.troubles.count == 1, "%d troubles for \"%s\": %s; %s", desk.troubles.count,
                  change->says, desk.troubles.count ? found[0].text : "none",
                  desk.troubles.count > 1 ? found[1].text : "");
    place_of_trouble(found, &at_line, &at_column);
    ck_assert_msg(at_line == line && at_column == column, "%s instead of %d:%d, %s", found->place,
                  line, column, found->text);
    ck_assert_msg(strstr(found->text, change->says) != NULL, "\"%s\" instead of \"%s\"",
                  found->text, change->says);
    desk_clear(&desk);
    free(text);
}

static void accepts(const struct change *change)
{
    struct desk desk;
    char *text = replaced(house, change->was, change->is);
    desk_load_text(&desk, text);
    ck_assert_msg(desk.settings != NULL, "%s: %s, for \"%s\"", desk.troubles.item[0].place,
                  desk.troubles.item[0].text, change->is);
    desk_clear(&desk);
    free(text);
}

#define ALL(verdict, changes)                                                                      \
    for (size_t k = 0; k < COUNT_OF(changes); k++)                                                 \
    verdict(&(changes)[k])

START_TEST(test_a_key_of_another_kind_is_not_silently_forgotten)
{
    static const struct change changes[] = {
        {"    title:", "    least: 6 A\n    title:", "least", "goes only with kind: setpoint"},
        {"    title:", "    step: 1 A\n    title:", "step", "goes only with kind: setpoint"},
        {"    title:", "    stages: [1 kW]\n    title:", "stages", "only with kind: staged"},
        {"    stages:", "    power: 2.5 kW\n    stages:", "power", "switched, setpoint or request"},
        {"address: 0}", "address: 0, topic: a/b}", "topic", "goes only with kind: topic"},
        {"address: 0}", "address: 0, on_value: 2}", "on_value", "goes only with kind: register"},
        {"address: 0}", "address: 0, count_power: 1 W}", "count_power", "register or topic"},
        {"address: 0}", "address: 0, chip: c}", "chip", "goes only with kind: line"},
        {"line: 17}", "line: 17, bus: lan}", "bus", "goes only with kind: coil or register"},
        {"line: 17}", "line: 17, on_payload: x}", "on_payload", "only with kind: topic"},
        {"tcp_port: 1502", "baud: 9600", NULL, "baud goes only with port"},
        {"parity: none}", "parity: none, tcp_port: 502}", "tcp_port", "goes only with host"},
        {"days: mon-fri}", "days: mon-fri, every_days: 3}", "days", "write days or every_days"},
        {"role: solar,", "role: solar, load: pool-pump,", "load", "goes only with role: load"},
        {"    title:", "    uses_spare: no\n    start_fraction: 50 %\n    title:", "start_fraction",
         "goes only with uses_spare: yes"},
        {"  host: broker", "  ca_file: /x\n  host: broker", "ca_file", "only with tls: yes"},
        {"  host: broker", "  tls: yes\n  key_file: /x\n  host: broker", "key_file",
         "needs certificate_file"},
        {"  host: broker", "  password_file: x\n  host: broker", "password_file", "needs user"},
        {"  host: broker", "  device: My_House\n  host: broker", "My", "a-z, 0-9 and hyphens"},
        {"  host: broker", "  client_id: a b\n  host: broker", "a b", "only letters and digits"},
    };
    ALL(refuses, changes);
}
END_TEST

START_TEST(test_a_charger_is_never_asked_for_less_than_six_amps)
{
    /* IEC 61851-1: the least current that a charger can offer is 6 A. */
    static const struct change refused[] = {
        {"least: 6 A", "least: 5 A", "5 A", "at least 6 A (IEC 61851-1)"},
        {"least: 6 A", "least: 5.999 A", "5.999 A", "at least 6 A (IEC 61851-1)"},
        {"least: 6 A", "least: 3 kW", "output: {kind: register", "least is only 3000 W"},
        {"least: 6 A", "least: 40 A", "40 A", "more than power"},
        {"least: 6 A", "least: 6 A\n    step: 40 A", "40 A", "more than power"},
    };
    static const struct change accepted[] = {
        {"least: 6 A", "least: 4.14 kW", NULL, NULL}, /* 3 x 230 V x 6 A */
        {"count_current: 100 mA", "count_power: 1 W", NULL, NULL},
    };
    ALL(refuses, refused);
    ALL(accepts, accepted);
}
END_TEST

START_TEST(test_an_output_suits_its_load)
{
    static const struct change refused[] = {
        {"{kind: register, bus: lan, unit: 20, address: 100, count_current: 100 mA}",
         "{kind: coil, bus: lan, unit: 20, address: 100}", "output: {kind: coil, bus: lan",
         "the supply of such a load is never switched"},
        {", count_current: 100 mA", "", "output: {kind: register",
         "needs count_power or count_current"},
        {"count_current: 100 mA", "count_current: 100 mA, count_power: 1 W",
         "output: {kind: register", "not both"},
        {"count_current: 100 mA", "count_current: 100 mA, fail_state: on", "on}",
         "cannot fail to on"},
        {"{kind: line, line: 17}", "{kind: register, bus: lan, address: 3, count_power: 1 W}",
         "output: {kind: register, bus: lan, address: 3", "only with loads of kind setpoint"},
        {"{kind: line, line: 17}", "{kind: register, bus: lan, address: 3, on_value: 0}",
         "output: {kind: register, bus: lan, address: 3", "are the same"},
        {"address: [4, 5]", "address: 4", "4", "2 stages need as many addresses, not 1"},
        {"{kind: coil, bus: switchboard, unit: 10, address: [4, 5]}", "{kind: line, line: 2}",
         "output: {kind: line, line: 2}", "needs an output of kind coil or register"},
        {"address: 0}", "address: [0, 1]}", "[", "several go only with loads of kind staged"},
        {"line: 17}", "line: 17, fail_state: on}", "output: {kind: line",
         "fail_state: on is only for a load with thermostat: yes"},
        {"address: 0}", "address: 0, normally_closed: yes}",
         "output: {kind: coil, bus: switchboard, unit: 10, address: 0,", "write fail_state: on"},
        {"{kind: line, line: 17}", "{kind: line}", "output: {kind: line", "output needs line"},
        {"topic: yard/pump/set}", "state_topic: yard/pump}", "output: {kind: topic",
         "output needs topic"},
        {"topic: yard/pump/set}", "topic: yard/+/set}", "yard/+/set", "cannot be published to"},
        {"topic: yard/pump/set}", "topic: yard/pump/set, on_payload: x, off_payload: x}",
         "output: {kind: topic", "on_payload and off_payload are the same"},
        {"mqtt:\n  host: broker.home.arpa\n", "", "output: {kind: topic", "needs the section mqtt"},
    };
    static const struct change accepted[] = {
        {"address: 0}", "address: 0, normally_closed: yes, fail_state: on}", NULL, NULL},
        {"address: 0}", "address: 0, fail_state: on}", NULL, NULL},
        {"topic: yard/pump/set}", "topic: yard/pump/set, state_topic: yard/pump}", NULL, NULL},
    };
    ALL(refuses, refused);
    ALL(accepts, accepted);
}
END_TEST

START_TEST(test_two_loads_never_share_a_contactor)
{
    static const struct change refused[] = {
        {"{kind: line, line: 17}", "{bus: switchboard, unit: 10, address: 0}",
         "output: {bus: switchboard", "water-heater and pool-pump have the same output"},
        {"{kind: line, line: 17}", "{bus: switchboard, unit: 10, address: 5}",
         "output: {bus: switchboard", "shed-heater and pool-pump have the same output"},
        {"{kind: topic, topic: yard/pump/set}", "{kind: line, line: 17}",
         "output: {kind: line, line: 17}\nmqtt", "pool-pump and heat-pump have the same output"},
        {"address: [4, 5]", "address: [4, 4]",
         "output: {kind: coil, bus: switchboard, unit: 10, address: [4", "is there twice"},
        {"{host: 192.0.2.10, tcp_port: 1502}", "{port: /dev/sluice-meter}", "lan: {port",
         "the same line as switchboard"},
    };
    static const struct change accepted[] = {
        /* Another unit, another bus, a register of the same number. */
        {"{kind: line, line: 17}", "{bus: switchboard, unit: 11, address: 0}", NULL, NULL},
        {"{kind: line, line: 17}", "{bus: lan, unit: 10, address: 0}", NULL, NULL},
        {"{kind: line, line: 17}", "{kind: register, bus: switchboard, unit: 10, address: 0}", NULL,
         NULL},
        {"{kind: topic, topic: yard/pump/set}", "{kind: line, line: 18}", NULL, NULL},
    };
    ALL(refuses, refused);
    ALL(accepts, accepted);
}
END_TEST

START_TEST(test_a_floor_can_be_kept)
{
    static const struct change refused[] = {
        {"    output: {kind: topic, topic: yard/pump/set}\n",
         "    output: {kind: topic, topic: yard/pump/set}\n"
         "    floors: [{amount: 1 h, by: \"17:00\"}]\n",
         "{amount: 1 h", "must not depend on the broker"},
        {"    thermostat: yes\n", "", "{measure: satisfied", "needs thermostat: yes"},
        {"{measure: energy, amount: 8 kWh,", "{measure: time, amount: 3 h,", "{measure: time",
         "measured as energy"},
        {"    - {price: 0.30 /kWh}\n    - {price: 0.45 /kWh, hours: \"mon-fri 15:00-21:00\", "
         "months: nov-mar}\n",
         "    []\n", "cheapest_hours", "needs the section tariff"},
        {"{amount: 3 h, by", "{amount: 23 h, by", "{amount: 23 h", "permit only"},
        {"    power: 1.1 kW\n", "    power: 1.1 kW\n    daily_maximum: 5 min\n", "pool-pump:\n",
         "it could never start"},
        {"power: 1.1 kW\n", "power: 1.1 kW\n    heat_up: 3 h\n", "heat_up",
         "needs thermostat: yes"},
    };
    ALL(refuses, refused);
}
END_TEST

START_TEST(test_the_site_holds_together)
{
    static const struct change refused[] = {
        {"  billing: net\n", "", "phases: 3", "no default with 3 phases"},
        {"phases: 3\n", "phases: 2\n", "2\n", "phases: 1 or 3"},
        {"    phases: L3\n", "", "pool-pump:\n", "pool-pump needs phases"},
        {"    - {price: 0.30 /kWh}\n", "", "hours: \"mon-fri 15", "the first band holds always"},
        {"{host: 192.0.2.10, tcp_port: 1502}", "{answer: 2 s}", "lan: {answer", "either port"},
        {"{host: 192.0.2.10,", "{port: /dev/x, host: 192.0.2.10,", "lan: {port", "not both"},
        {"{limit: 32 A}", "{one_at_a_time: no}", "shed: {one", "limits nothing"},
        {"role: solar", "role: grid", "meters:", "exactly one meter has the role grid, not 2"},
        {"role: grid", "role: solar", "meters:", "exactly one meter has the role grid, not 0"},
        {"role: solar", "role: battery", "meters:", "needs battery: yes"},
        {"  voltage: 230 V\n", "  voltage: 230 V\n  battery: yes\n", "yes\n",
         "battery: yes needs a meter of role battery"},
        {"role: solar,", "role: load, load: pool-pump,", "pool-pump, bus: lan, unit: 3",
         "has a meter already"},
        {"power: 1.1 kW\n    phases: L3", "power: 30 kW\n    phases: L3", "30 kW",
         "passes the supply limit of 63 A"},
        {"stages: [1 kW, 1.5 kW]", "stages: [8 kW, 1.5 kW]", "[", "passes the group's limit"},
    };
    ALL(refuses, refused);
}
END_TEST

/* ---- many at once ------------------------------------------------------------------------------
 */

START_TEST(test_all_mistakes_come_at_once_in_the_order_of_the_file)
{
    static const char text[] = "site:\n"
                               "  timezone: Mars/Olympus\n" /* 2:13 */
                               "  supply_limit: 63\n"       /* 3:17 */
                               "loads:\n"
                               "  heater:\n"
                               "    power: 3.6 kw\n"        /* 6:12 */
                               "    minimum_onn: 3 min\n"   /* 7:5 */
                               "    output: {kind: coil}\n" /* 8:5 twice: bus, address */
                               "meters:\n"
                               "  grid: {role: grid, bus: b, map: sunspec, every: 1}\n" /* 10:51 */
                               "buses:\n"
                               "  b: {host: h, prot: x}\n"; /* 12:16 */
    static const int places[][2] = {{2, 13}, {3, 17}, {6, 12},  {7, 5},
                                    {8, 5},  {8, 5},  {10, 51}, {12, 16}};
    struct desk desk;
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, COUNT_OF(places));
    for (int k = 0; k < desk.troubles.count; k++) {
        int line = 0, column = 0;
        place_of_trouble(&desk.troubles.item[k], &line, &column);
        ck_assert_msg(line == places[k][0] && column == places[k][1], "%s: %s",
                      desk.troubles.item[k].place, desk.troubles.item[k].text);
    }
    desk_clear(&desk);
}
END_TEST

START_TEST(test_what_the_engine_cannot_keep_is_said_of_every_load)
{
    char *first = replaced(house, "{amount: 3 h, by", "{amount: 23 h, by");
    char *text = replaced(first, "    power: 1.1 kW\n",
                          "    power: 1.1 kW\n    floors: [{amount: 2 h, by: \"17:00\"}, "
                          "{amount: 24 h, by: \"17:00\"}]\n");
    struct desk desk;
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 2);
    for (int k = 0; k < 2; k++) {
        int line, column, at_line = 0, at_column = 0;
        const char *floor = strstr(text, k == 0 ? "{amount: 23 h" : "{amount: 24 h");
        place_of_offset(text, (size_t)(floor - text), &line, &column);
        place_of_trouble(&desk.troubles.item[k], &at_line, &at_column);
        ck_assert_int_eq(at_line, line);
        ck_assert_int_eq(at_column, column);
    }
    desk_clear(&desk);
    free(text);
    free(first);
}
END_TEST

START_TEST(test_a_thousand_mistakes_end_somewhere_and_say_so)
{
    char *text = malloc(strlen(house) + 16000), *at = text;
    struct desk desk;
    at += sprintf(at, "%s", house);
    for (int k = 0; k < 1000; k++)
        at += sprintf(at, "  k%03d: 1\n", k);
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 100);
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[99].text, "there may be more"));
    desk_clear(&desk);
    free(text);
}
END_TEST

/* A trouble goes to a terminal, a log and a broker: whole characters, none of control. */
START_TEST(test_what_is_quoted_is_fit_for_a_screen)
{
    char word[256] = "\"\\e[31m";
    for (int k = 0; k < 60; k++)
        strcat(word, "\xc3\xa9");
    strcat(word, "\"");
    char *text = replaced(house, "billing: net", "billing: ");
    char *whole = replaced(text, "billing: ", "billing: @");
    free(text);
    text = replaced(whole, "@", word);
    struct desk desk;
    desk_load_text(&desk, text);
    ck_assert_int_eq(desk.troubles.count, 1);
    ck_assert_ptr_null(strchr(desk.troubles.item[0].text, '\x1b'));
    ck_assert_ptr_nonnull(strstr(desk.troubles.item[0].text, "\xc3\xa9...\""));
    desk_clear(&desk);
    free(text);
    free(whole);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_a_key_of_another_kind_is_not_silently_forgotten,
        test_a_charger_is_never_asked_for_less_than_six_amps,
        test_an_output_suits_its_load,
        test_two_loads_never_share_a_contactor,
        test_a_floor_can_be_kept,
        test_the_site_holds_together,
        test_all_mistakes_come_at_once_in_the_order_of_the_file,
        test_what_the_engine_cannot_keep_is_said_of_every_load,
        test_a_thousand_mistakes_end_somewhere_and_say_so,
        test_what_is_quoted_is_fit_for_a_screen,
    };
    return suite_run("together", tests, COUNT_OF(tests));
}
