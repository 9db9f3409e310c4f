/* test_slips.c - what can be read and is still a slip of the hand: an error where it can't
 * be right, a notice with its line where it may be. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define EXPECT(rows) expect_mistakes((rows), COUNT_OF(rows))
#define ACCEPT(rows) expect_accepted((rows), COUNT_OF(rows))
#define NOTICE(rows) expect_notices((rows), COUNT_OF(rows))

#define GRID "grid: {role: grid, bus: board, unit: 2, map: sunspec}"
#define HEATER "output: {bus: board, unit: 10, address: 0}"
#define CAR "output: {kind: register, bus: lan, address: 7, count_current: 100 mA}"
#define FLOOR "{amount: 3 h, by: \"17:00\"}"

/* ---- units ------------------------------------------------------------------------------------
 */

START_TEST(test_two_devices_on_one_bus_have_two_unit_ids)
{
    static const struct mistake rows[] = {
        {GRID,
         "grid: {role: grid, bus: board, unit: 2, map: eastron-sdm630}\n"
         "  roof: {role: solar, bus: board, unit: 2, map: abb-b23}",
         "2, map: abb-b23",
         "unit: 2 on bus board is meter grid already: two devices on one bus need two unit ids"},
        {GRID,
         "grid: {role: grid, bus: board, unit: 2, map: eastron-sdm630}\n"
         "  roof: {role: solar, bus: board, unit: 2, map: eastron-sdm630}",
         "2, map: eastron-sdm630}\ngroups",
         "unit: 2 on bus board is meter grid already: two devices on one bus need two unit ids"},
        {GRID,
         "grid: {role: grid, bus: board, unit: 2, map: eastron-sdm630}\n"
         "  heat: {role: load, load: heater, bus: board, unit: 2, map: sunspec}",
         "2, map: sunspec",
         "unit: 2 on bus board is meter grid already: two devices on one bus need two unit ids"},
        {GRID, "grid: {role: grid, bus: board, unit: 10, map: eastron-sdm630}", "10, address: 0",
         "unit: 10 on bus board is meter grid already: a relay board needs a unit id of its own"},
    };
    char *text = edited(small_house, "unit: 10, address: 1", "unit: 11, address: 1");
    char *both = edited(text, rows[3].find, rows[3].write);
    expect_mistakes(rows, 3);
    expect_only(both, rows[3].at, rows[3].says);
    free(both);
    free(text);
}
END_TEST

START_TEST(test_what_is_one_device_shares_its_unit_id)
{
    static const struct mistake rows[] = {
        /* the parts of one inverter */
        {GRID,
         "grid: {role: grid, bus: lan, unit: 3, map: huawei-sun2000-meter}\n"
         "  roof: {role: solar, bus: lan, unit: 3, map: huawei-sun2000}",
         0, 0},
        {GRID,
         "grid: {role: grid, bus: board, unit: 2, map: sunspec}\n"
         "  roof: {role: solar, bus: board, unit: 2, map: sunspec}",
         0, 0},
        /* one unit id on two buses */
        {GRID,
         "grid: {role: grid, bus: board, unit: 2, map: eastron-sdm630}\n"
         "  roof: {role: solar, bus: lan, unit: 2, map: eastron-sdm630}",
         0, 0},
        /* a charger's own meter stands in the charger */
        {GRID,
         "grid: {role: grid, bus: board, unit: 2, map: sunspec}\n"
         "  own: {role: load, load: car, bus: lan, unit: 1, map: sunspec}",
         0, 0},
    };
    ACCEPT(rows);
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = edited(small_house, rows[k].find, rows[k].write);
        expect_no_notice(text, "unit:");
        free(text);
    }
}
END_TEST

START_TEST(test_a_meter_and_a_relay_that_may_be_one_device_are_a_notice)
{
    static const struct mistake rows[] = {
        {"unit: 10, address: 0", "unit: 2, address: 0", "2, address: 0",
         "unit: 2 on bus board is meter grid as well: right only where one device has both. A "
         "relay board needs a unit id of its own."},
        {GRID, "grid: {role: grid, bus: lan, map: eastron-sdm630}", "{kind: register",
         "unit: 1 on bus lan is meter grid as well: right only where one device has both. A relay "
         "board needs a unit id of its own."},
    };
    NOTICE(rows);
    expect_no_notice(small_house, "unit:");
}
END_TEST

/* ---- maps -------------------------------------------------------------------------------------
 */

START_TEST(test_a_map_suits_the_role_of_its_meter)
{
    static const struct mistake rows[] = {
        {"map: sunspec", "map: sma-inverter", "sma-inverter",
         "map: sma-inverter reads what an inverter produces: the role grid needs a meter at the "
         "connection point"},
        {"map: sunspec", "map: huawei-sun2000-battery", "huawei-sun2000-battery",
         "map: huawei-sun2000-battery reads a battery: the role grid needs a meter at the "
         "connection point"},
        {GRID, GRID "\n  roof: {role: solar, bus: lan, unit: 3, map: huawei-sun2000-battery}",
         "huawei-sun2000-battery",
         "map: huawei-sun2000-battery reads a battery, which is not this meter's role"},
    };
    static const struct mistake accepted[] = {
        {GRID, GRID "\n  roof: {role: solar, bus: lan, unit: 3, map: sma-inverter}", 0, 0},
        {GRID, "grid: {role: grid, bus: board, unit: 2, map: eastron-sdm120}", 0, 0},
    };
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

/* The small house on three phases. */
static char *three_phases(const char *map)
{
    static const char *const changes[][2] = {
        {"phases: 1", "phases: 3\n  billing: net"},
        {"power: 3.6 kW", "power: 3.6 kW\n    phases: L1"},
        {"power: 1.1 kW", "power: 1.1 kW\n    phases: L2"},
        {"power: 16 A", "power: 16 A\n    phases: L3"},
    };
    char *text = edited(small_house, "map: sunspec", map);
    for (size_t k = 0; k < COUNT_OF(changes); k++) {
        char *changed = edited(text, changes[k][0], changes[k][1]);
        free(text);
        text = changed;
    }
    return text;
}

START_TEST(test_a_one_phase_meter_is_no_grid_meter_of_three_phases)
{
    char *one = three_phases("map: eastron-sdm120"), *three = three_phases("map: eastron-sdm630");
    expect_only(one, "eastron-sdm120",
                "map: eastron-sdm120 is of a one-phase meter, and the site has 3 phases: it can't "
                "see what the other two draw");
    settings_free(load_good(three));
    expect_no_notice(three, "map:");
    free(one);
    free(three);
}
END_TEST

START_TEST(test_a_map_that_is_not_there_names_those_that_may_be_meant)
{
    static const struct mistake rows[] = {
        {"map: sunspec", "map: sdm630", "sdm630",
         "map: there is no sdm630.yaml in " MAPS_DIR "; near it: eastron-sdm630"},
        {"map: sunspec", "map: eastron", "eastron",
         "map: there is no eastron.yaml in " MAPS_DIR "; near it: eastron-sdm120, eastron-sdm630"},
        {"map: sunspec", "map: chint-meter", "chint-meter",
         "map: there is no chint-meter.yaml in " MAPS_DIR
         "; near it: chint-ddsu666, chint-dtsu666, chint-dtsu666-2016"},
    };
    struct settings_troubles troubles;
    char *text = edited(small_house, "map: sunspec", "map: qqqqqq");
    EXPECT(rows);
    ck_assert_ptr_null(load_text(text, &troubles));
    ck_assert_ptr_nonnull(strstr(troubles.item[0].text, "; `sluice meter maps` lists all "));
    settings_troubles_free(&troubles);
    free(text);
}
END_TEST

/* ---- addresses and ports -----------------------------------------------------------------------
 */

START_TEST(test_a_host_is_a_name_or_an_address)
{
    static const struct mistake rows[] = {
        {"host: 192.0.2.7", "host: 192.0.2.777", "192.0.2.777",
         "host: \"192.0.2.777\" is not an address: one is four numbers from 0 to 255 without "
         "leading "
         "zeros, such as 192.0.2.10"},
        {"host: 192.0.2.7", "host: 192.0.2", "192.0.2",
         "host: \"192.0.2\" is not an address: one is four numbers from 0 to 255 without leading "
         "zeros, such as 192.0.2.10"},
        {"host: 192.0.2.7", "host: 192.0.2.007", "192.0.2.007",
         "host: \"192.0.2.007\" is not an address: one is four numbers from 0 to 255 without "
         "leading "
         "zeros, such as 192.0.2.10"},
        {"host: 192.0.2.7", "host: \"192.0.2.7:502\"", "\"192.0.2.7:502",
         "host: \"192.0.2.7:502\" has a port in it: write host: 192.0.2.7 and tcp_port: 502"},
        {"host: 192.0.2.7", "host: \"http://192.0.2.7\"", "\"http",
         "host: write the name or the address alone, such as 192.0.2.10, not "
         "\"http://192.0.2.7\""},
        {"host: 192.0.2.7", "host: \"192.0.2.7/24\"", "\"192.0.2.7/24",
         "host: \"192.0.2.7/24\" is neither a name nor an address, such as 192.0.2.10"},
        {"host: localhost", "host: \"localhost:1883\"", "\"localhost:1883",
         "host: \"localhost:1883\" has a port in it: write host: localhost and port: 1883"},
    };
    static const struct mistake accepted[] = {
        {"host: 192.0.2.7", "host: meter.home.arpa", 0, 0},
        {"host: 192.0.2.7", "host: \"2001:db8::7\"", 0, 0},
        {"host: 192.0.2.7", "host: \"fe80::1%eth0\"", 0, 0},
        {"host: 192.0.2.7", "host: meter_2", 0, 0},
    };
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_a_port_is_a_device_of_this_machine)
{
    static const struct mistake rows[] = {
        {"/dev/ttyS9", "COM3", "COM3",
         "port: a serial port is a device file, such as /dev/sluice-meter or /dev/ttyUSB0, not "
         "\"COM3\""}};
    static const struct mistake notices[] = {
        {"/dev/ttyS9", "/dev/sluice-none", "/dev/sluice-none",
         "port: there is no /dev/sluice-none on this machine. Is the adapter plugged in? \"ls "
         "/dev/serial/by-id\" lists those that are."},
        {"/dev/ttyS9", "/etc/passwd", "/etc/passwd", "port: /etc/passwd is not a serial port."},
    };
    char *there = edited(small_house, "/dev/ttyS9", "/dev/null");
    EXPECT(rows);
    NOTICE(notices);
    expect_no_notice(there, "port:");
    free(there);
}
END_TEST

START_TEST(test_a_register_number_of_the_papers_is_not_an_address)
{
    static const struct mistake rows[] = {
        {"address: 0", "address: 40001", "40001",
         "address: 40001 looks like a register number of the datasheet, where 40001 is the "
         "first: coil 0? Addresses count from 0 here, as on the wire."},
        {"address: 0", "address: 00003", "00003",
         "address: 00003 looks like a coil number of the datasheet, where 00001 is the "
         "first: coil 2? Addresses count from 0 here, as on the wire."},
        {"address: 7", "address: 40101", "40101",
         "address: 40101: if that is a register number of the datasheet, where 40001 is the "
         "first, write 100. Addresses count from 0 here, as on the wire."},
    };
    NOTICE(rows);
    expect_no_notice(small_house, "address:");
}
END_TEST

/* ---- money ------------------------------------------------------------------------------------
 */

START_TEST(test_a_price_in_cents_is_noticed)
{
    static const struct mistake rows[] = {
        {"price: 0.30 /kWh", "price: 30 /kWh", "30 /kWh",
         "price: 30.00 /kWh looks like cents: write 0.30 /kWh, unless a kWh is worth that much in "
         "your "
         "currency."},
        {"price: 0.20 /kWh", "price: 20 /kWh", "20 /kWh",
         "price: 20.00 /kWh looks like cents: write 0.20 /kWh, unless a kWh is worth that much in "
         "your "
         "currency."},
        {"tariff:\n", "tariff:\n  feed_in: 5 /kWh\n", "5 /kWh",
         "feed_in: 5.00 /kWh looks like cents: write 0.05 /kWh, unless a kWh is worth that much in "
         "your currency."},
    };
    NOTICE(rows);
    expect_no_notice(small_house, "cents");
}
END_TEST

START_TEST(test_feed_in_above_import_is_noticed)
{
    static const struct mistake rows[] = {
        {"tariff:\n", "tariff:\n  feed_in: 0.35 /kWh\n", "0.35 /kWh",
         "feed_in: 0.35 /kWh is more than importing costs (0.30 /kWh): each kWh that a load takes "
         "from spare power loses money. Are the two swapped?"}};
    char *usual = edited(small_house, "tariff:\n", "tariff:\n  feed_in: 0.30 /kWh\n");
    NOTICE(rows);
    expect_no_notice(usual, "feed_in");
    free(usual);
}
END_TEST

/* ---- loads ------------------------------------------------------------------------------------
 */

START_TEST(test_times_and_margins_that_are_hardly_meant_are_noticed)
{
    static const struct mistake rows[] = {
        {"power: 1.1 kW", "power: 1.1 kW\n    minimum_on: 12 h", "12 h",
         "minimum_on: 12 h: whatever starts it, even a short spell of sun, it then runs that long "
         "and buys the rest."},
        {"phases: 1", "phases: 1\n  margin: -500 W", "-500 W",
         "margin: -500 W is negative: loads start and keep running while up to 500 W of their "
         "power is "
         "imported."},
        {FLOOR, "{measure: satisfied, amount: 20 min, by: \"17:00\"}", "20 min",
         "amount: 20 min is short for heating until the thermostat opens; a storage water heater "
         "takes hours. What takes longer than planned is late."},
    };
    char *two = edited(small_house, "power: 1.1 kW", "power: 1.1 kW\n    minimum_on: 2 h");
    NOTICE(rows);
    expect_no_notice(two, "minimum_on");
    free(two);
}
END_TEST

START_TEST(test_a_heat_up_time_is_compared_with_the_water)
{
    /* 315 L from 15 to 65 degrees: 315 x 50 x 1.163 Wh = 18.3 kWh, at 3.6 kW 5 h 5 min */
    char *water = edited(small_house, "thermostat: yes",
                         "thermostat: yes\n    water: {volume: 315 L, set: 65 °C, cold: 15 °C}");
    char *early = edited(water, FLOOR, "{measure: satisfied, amount: 2 h, by: \"17:00\"}");
    char *usual = edited(water, FLOOR, "{measure: satisfied, amount: 4 h, by: \"17:00\"}");
    expect_notice(early, "2 h, by",
                  "amount: heating this water from cold takes about 5 h 5 min; with 2 h planned "
                  "for it, it will often be late.");
    expect_no_notice(usual, "amount");
    free(usual);
    free(early);
    free(water);
}
END_TEST

START_TEST(test_what_can_never_be_right_is_an_error)
{
    static const struct mistake rows[] = {
        {FLOOR, "{measure: satisfied, amount: 3 min, by: \"17:00\"}", "3 min",
         "amount: in 3 min nothing is heated until its thermostat opens; write the time that "
         "heating from cold takes, such as 4 h"},
        {"phases: 1", "phases: 1\n  quiet: \"00:00-24:00\"", "\"00:00-24:00",
         "quiet: these hours never end: nothing would ever start on spare power"},
        {"phases: 1", "phases: 1\n  quiet: [\"06:00-18:00\", \"17:00-06:00\"]", "[\"06",
         "quiet: these hours never end: nothing would ever start on spare power"},
    };
    static const struct mistake accepted[] = {
        {"phases: 1", "phases: 1\n  quiet: \"sun 00:00-24:00\"", 0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_one_slip_is_one_error)
{
    static const struct mistake rows[] = {
        {"thermostat: yes", "thermostat: true\n    heat_up: 4 h\n    water: {volume: 315 L}",
         "true", "thermostat: is yes or no, not \"true\""},
        {FLOOR, "{measure: Energy, amount: 6 kWh, by: \"17:00\"}", "Energy",
         "measure: \"Energy\" is not one of the choices; write time, energy or satisfied"},
        {"thermostat: yes", "uses_spare: true\n    start_fraction: 50 %", "true",
         "uses_spare: is yes or no, not \"true\""},
        {GRID, GRID "\n  store: {role: battery, bus: lan, unit: 4, map: sunspec}\nsite-2: {}",
         "site-2", "the file has no setting \"site-2\"; do you mean \"site\"?"},
    };
    expect_mistakes(rows, 3);
    char *text = edited(small_house, "thermostat: yes", "thermostat: true");
    char *floor = edited(text, FLOOR, "{measure: satisfied, amount: 4 h, by: \"17:00\"}");
    char *fails = edited(floor, "address: 0", "address: 0, fail_state: on");
    expect_only(fails, "true", "thermostat: is yes or no, not \"true\"");
    free(fails);
    free(floor);
    free(text);
    text = edited(small_house, "phases: 1", "phases: 1\n  battery: true");
    floor = edited(text, GRID, GRID "\n  store: {role: battery, bus: lan, unit: 4, map: sunspec}");
    expect_only(floor, "true", "battery: is yes or no, not \"true\"");
    free(floor);
    free(text);
}
END_TEST

/* ---- together -----------------------------------------------------------------------------------
 */

/* Two heaters by a morning's deadline, in the hours between ten and six. */
static char *two_heaters(const char *group, const char *amount)
{
    char loads[640];
    snprintf(loads, sizeof(loads),
             "  second:\n    power: 3.6 kW\n    hours: \"22:00-06:00\"\n    group: shed\n"
             "    output: {bus: board, unit: 10, address: 5}\n"
             "    floors: [{amount: %s, by: \"06:00\"}]\n"
             "  heater:\n    group: shed\n    hours: \"22:00-06:00\"\n",
             amount);
    char *text = edited(small_house, "  heater:\n", loads);
    char *whole = edited(text, "{limit: 32 A}", group);
    free(text);
    text = edited(whole, FLOOR, "{amount: 5 h, by: \"06:00\"}");
    free(whole);
    return text;
}

START_TEST(test_floors_that_cannot_run_beside_each_other_are_an_error)
{
    /* 5 h + 5 h, one after another, in 8 h */
    char *turns = two_heaters("{one_at_a_time: yes}", "5 h");
    expect_only(turns, "yes}\nloads",
                "one_at_a_time: the floors of second and heater need 10 h a day, one after "
                "another, but their hours have only 8 h a day: they can't all be kept");
    free(turns);
    /* 15.7 A each: no two of them below 20 A */
    turns = two_heaters("{limit: 20 A}", "5 h");
    expect_only(turns, "20 A",
                "limit: the floors of second and heater need 10 h a day, one after another, as no "
                "two of them fit below it, but their hours have only 8 h a day: they can't all be "
                "kept");
    free(turns);
    static const char *const groups[] = {"{limit: 32 A}", "{one_at_a_time: yes}"};
    static const char *const amounts[] = {"5 h", "2 h"};
    for (size_t k = 0; k < COUNT_OF(groups); k++) {
        char *fits = two_heaters(groups[k], amounts[k]);
        settings_free(load_good(fits));
        free(fits);
    }
}
END_TEST

START_TEST(test_floors_that_need_more_than_the_supply_are_an_error)
{
    /* 230 V: 3 x 7 h x 15.65 A in 8 h is 41 A on one phase; on three phases it is 13.7 A */
    static const char more[] =
        "  a: {power: 3.6 kW, hours: \"22:00-06:00\", output: {bus: board, unit: 10, address: 5},\n"
        "    floors: [{amount: 7 h, by: \"06:00\"}]}\n"
        "  b: {power: 3.6 kW, hours: \"22:00-06:00\", output: {bus: board, unit: 10, address: 6},\n"
        "    floors: [{measure: energy, amount: 25.2 kWh, by: \"06:00\"}]}\n"
        "  c: {power: 3.6 kW, hours: \"22:00-06:00\", output: {bus: board, unit: 10, address: 7},\n"
        "    floors: [{amount: 7 h, by: \"06:00\"}]}\n"
        "  heater:\n";
    char *text = edited(small_house, "  heater:\n", more);
    char *small = edited(text, "supply_limit: 63 A", "supply_limit: 40 A");
    settings_free(load_good(text));
    expect_only(small, "40 A",
                "supply_limit: the floors of a, b and c need 41 A a phase all through their hours, "
                "more than 40 A: they can't all be kept");
    free(small);
    free(text);
}
END_TEST

START_TEST(test_a_planned_heat_up_that_does_not_fit_is_a_notice)
{
    char *turns = two_heaters("{one_at_a_time: yes}", "2 h");
    char *weekly = edited(turns, "    floors: [{amount: 2 h, by: \"06:00\"}]",
                          "    thermostat: yes\n    floors: [{measure: satisfied, amount: 5 h, by: "
                          "\"06:00\"}]");
    expect_notice(
        weekly, "yes}\nloads",
        "one_at_a_time: the floors of second and heater need 10 h a day, one after "
        "another, but their hours have only 8 h a day, if heating takes as long as planned.");
    expect_no_notice(turns, "the floors of");
    free(weekly);
    free(turns);
}
END_TEST

/* ---- words ------------------------------------------------------------------------------------
 */

START_TEST(test_common_words_of_elsewhere_point_to_ours)
{
    static const struct mistake rows[] = {
        {"power: 1.1 kW", "power: 1.1 kW\n    min_on: 5 min", "min_on",
         "pump has no setting \"min_on\"; here that is \"minimum_on\""},
        {"power: 1.1 kW", "power: 1.1 kW\n    prio: 2", "prio",
         "pump has no setting \"prio\"; here that is \"priority\""},
        {"power: 1.1 kW", "power: 1.1 kW\n    max_power: 2 kW", "max_power",
         "pump has no setting \"max_power\"; here that is \"power\""},
        {"power: 1.1 kW", "power: 1.1 kW\n    name: Pump", "name",
         "pump has no setting \"name\"; here that is \"title\""},
        {"unit: 2,", "unit: 2, slave: 2,", "slave",
         "grid has no setting \"slave\"; here that is \"unit\""},
        {"host: 192.0.2.7", "ip: 192.0.2.7, host: 192.0.2.7", "ip",
         "lan has no setting \"ip\"; here that is \"host\""},
        {"  phases: 1", "  phases: 1\n  fuse: 63 A", "fuse",
         "site has no setting \"fuse\"; here that is \"supply_limit\""},
        {"by: \"17:00\"", "by: \"17:00\", deadline: \"17:00\"", "deadline",
         "a floor has no setting \"deadline\"; here that is \"by\""},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_city_points_to_its_zone)
{
    static const struct mistake rows[] = {
        {"Australia/Sydney", "Adelaide", "Adelaide",
         "timezone: \"Adelaide\" is neither a zone of this system, such as Australia/Sydney, nor a "
         "POSIX rule; do you mean \"Australia/Adelaide\"?"},
        {"Australia/Sydney", "new york", "new york",
         "timezone: \"new york\" is neither a zone of this system, such as Australia/Sydney, nor a "
         "POSIX rule; do you mean \"America/New_York\"?"},
        {"Australia/Sydney", "Berln", "Berln",
         "timezone: \"Berln\" is neither a zone of this system, such as Australia/Sydney, nor a "
         "POSIX rule; do you mean \"Europe/Berlin\"?"},
    };
    EXPECT(rows);
}
END_TEST

static void describe(FILE *to, const void *context)
{
    settings_describe(context, to);
}

START_TEST(test_the_description_shows_notices_with_their_lines)
{
    char *text = edited(small_house, "phases: 1", "phases: 1\n  margin: -500 W");
    struct settings *settings = load_good(text);
    char *description = written_by(describe, settings);
    ck_assert_ptr_nonnull(strstr(description, ".yaml:4:11: margin:"));
    free(description);
    settings_free(settings);
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_two_devices_on_one_bus_have_two_unit_ids,
        test_what_is_one_device_shares_its_unit_id,
        test_a_meter_and_a_relay_that_may_be_one_device_are_a_notice,
        test_a_map_suits_the_role_of_its_meter,
        test_a_one_phase_meter_is_no_grid_meter_of_three_phases,
        test_a_map_that_is_not_there_names_those_that_may_be_meant,
        test_a_host_is_a_name_or_an_address,
        test_a_port_is_a_device_of_this_machine,
        test_a_register_number_of_the_papers_is_not_an_address,
        test_a_price_in_cents_is_noticed,
        test_feed_in_above_import_is_noticed,
        test_times_and_margins_that_are_hardly_meant_are_noticed,
        test_a_heat_up_time_is_compared_with_the_water,
        test_what_can_never_be_right_is_an_error,
        test_one_slip_is_one_error,
        test_floors_that_cannot_run_beside_each_other_are_an_error,
        test_floors_that_need_more_than_the_supply_are_an_error,
        test_a_planned_heat_up_that_does_not_fit_is_a_notice,
        test_common_words_of_elsewhere_point_to_ours,
        test_a_city_points_to_its_zone,
        test_the_description_shows_notices_with_their_lines,
    };
    return suite_run("slips", tests, COUNT_OF(tests));
}
