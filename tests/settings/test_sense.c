/* test_sense.c - what no single row can tell: settings that do not go together. Most of
 * these mistakes would only show when something switches. */
#include <stdlib.h>
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define EXPECT(rows) expect_mistakes((rows), COUNT_OF(rows))
#define ACCEPT(rows) expect_accepted((rows), COUNT_OF(rows))

#define HEATER "output: {bus: board, unit: 10, address: 0}"
#define PUMP "output: {bus: board, unit: 10, address: 1}"
#define CAR "output: {kind: register, bus: lan, address: 7, count_current: 100 mA}"
#define FLOOR "{amount: 3 h, by: \"17:00\"}"
#define STAGED "kind: staged\n    stages: [1 kW, 1 kW]\n    "

/* ---- the site ---------------------------------------------------------------------------------
 */

START_TEST(test_three_phases_have_no_default_billing_and_no_default_phase)
{
    struct settings_troubles troubles;
    static const char *const says[] = {
        ("site needs billing: net or per_phase, whichever the retail meter does; there is no "
         "default with 3 phases"),
        "load heater needs phases: those that it is wired to",
        "load pump needs phases: those that it is wired to",
        "load car needs phases: those that it is wired to",
    };
    static const char *const places[] = {":3:3", ":17:3", ":23:3", ":27:3"};
    char *text = edited(small_house, "phases: 1", "phases: 3");
    ck_assert_ptr_null(load_text(text, &troubles));
    ck_assert_int_eq(troubles.count, COUNT_OF(says));
    for (int k = 0; k < troubles.count; k++) {
        ck_assert_str_eq(troubles.item[k].text, says[k]);
        ck_assert_str_eq(strchr(troubles.item[k].place, ':'), places[k]);
    }
    settings_troubles_free(&troubles);
    free(text);
}
END_TEST

START_TEST(test_two_phases_are_none_of_ours)
{
    static const struct mistake rows[] = {
        {"phases: 1", "phases: 2", "2\n", "phases: \"2\" is not one of the choices; write 1 or 3"}};
    EXPECT(rows);
}
END_TEST

START_TEST(test_each_meter_has_a_role_that_fits_the_site)
{
    static const struct mistake rows[] = {
        {"phases: 1", "phases: 1\n  battery: yes", "yes",
         "battery: yes needs a meter of role battery; unread, it would hide what is spare"},
        {"map: sunspec}", "map: sunspec}\n  store: {role: battery, bus: lan, map: sunspec}",
         "meters", "a meter of role battery needs battery: yes under site"},
        {"map: sunspec}", "map: sunspec}\n  two: {role: grid, bus: lan, map: sunspec}", "meters",
         "exactly one meter has the role grid, not 2"},
        {"map: sunspec}",
         "map: sunspec}\n  b1: {role: battery, bus: lan, map: sunspec}\n  b2: {role: battery, bus: "
         "lan, unit: 2, map: sunspec}",
         "meters", "at most one meter has the role battery, not 2"},
        {"map: sunspec}",
         "map: sunspec}\n  p1: {role: load, load: pump, bus: lan, map: sunspec}\n  p2: {role: "
         "load, "
         "bus: lan, unit: 2, map: sunspec, load: pump}",
         "pump}\ngroups", "load: pump has a meter already"},
        {"role: grid", "role: solar", "meters", "exactly one meter has the role grid, not 0"},
    };
    EXPECT(rows);
}
END_TEST

#define TANK(name, unit, more)                                                                     \
    "\n  " name ": {role: tank, bus: lan, unit: " unit ", map: sunspec" more "}"

START_TEST(test_each_tank_has_at_most_one_thermometer_and_each_thermometer_one_tank)
{
    static const struct mistake rows[] = {
        {"map: sunspec}", "map: sunspec}" TANK("t1", "1", "") TANK("t2", "2", ""),
         "t2:", "meter t2 reads the tank of heater, which meter t1 does already"},
        {"map: sunspec}",
         "map: sunspec}" TANK("t1", "1", ", load: heater") TANK("t2", "2", ", load: heater"),
         "t2:", "meter t2 reads the tank of heater, which meter t1 does already"},
        {"map: sunspec}", "map: sunspec}" TANK("t1", "1", ", load: heatr"), "heatr",
         "load: there is no load \"heatr\"; do you mean \"heater\"?"},
    };
    static const struct mistake accepted[] = {
        {"map: sunspec}",
         "map: sunspec}" TANK("t1", "1", ", load: heater") TANK("t2", "2", ", load: pump"), 0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

static int tank_of(const char *text)
{
    struct settings *settings = load_good(text);
    int index = settings->meters[1].load_index;
    ck_assert_str_eq(settings->meters[1].load, settings->names[index].name);
    settings_free(settings);
    return index;
}

/* Of heater, pump and car only the heater has a thermostat. Of two that have one, it is
 * the one whose water is told of; else it has to be named. */
START_TEST(test_a_thermometer_needs_no_load_where_only_one_heats_water)
{
    char *one = edited(small_house, "map: sunspec}", "map: sunspec}" TANK("tank", "9", ""));
    ck_assert_int_eq(tank_of(one), 0);
    char *two = edited(one, "    power: 1.1 kW\n", "    power: 1.1 kW\n    thermostat: yes\n");
    expect_only(
        two, "tank:", "meter tank needs load: several loads may have a tank, whose does it read?");
    char *told = edited(two, "thermostat: yes", "thermostat: yes\n    water: {volume: 315 L}");
    ck_assert_int_eq(tank_of(told), 0);
    char *named = edited(two, "unit: 9", "unit: 9, load: pump");
    ck_assert_int_eq(tank_of(named), 1);
    free(named);
    free(told);
    free(two);
    free(one);
}
END_TEST

START_TEST(test_the_first_price_always_holds)
{
    static const struct mistake rows[] = {
        {"price: 0.30 /kWh", "price: 0.30 /kWh, hours: \"07:00-22:00\"", "hours",
         "the first band holds always, without hours: those after it are the exceptions"},
        {"price: 0.30 /kWh", "price: 0.30 /kWh, months: jul", "months",
         "the first band holds always, without months: those after it are the exceptions"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_line_is_serial_or_tcp_and_stands_once)
{
    static const struct mistake rows[] = {
        {"{host: 192.0.2.7}", "{host: 192.0.2.7, port: /dev/ttyS8}", "lan",
         "bus lan needs one of port (serial) or host (Modbus TCP), not both"},
        {"{host: 192.0.2.7}", "{host: 192.0.2.7, baud: 9600}", "baud", "baud goes only with port"},
        {"{port: /dev/ttyS9}", "{port: /dev/ttyS9, tcp_port: 502}", "tcp_port",
         "tcp_port goes only with host"},
        {"{host: 192.0.2.7}", "{port: /dev/ttyS9}", "lan",
         "bus lan is the same line as board: all its units belong to one"},
    };
    static const struct mistake accepted[] = {
        {"  lan: {host: 192.0.2.7}",
         "  lan: {host: 192.0.2.7}\n  lan-2: {host: 192.0.2.7, tcp_port: 503}", 0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_on_a_line_that_is_listened_to_nothing_is_switched_or_asked)
{
    static const struct mistake rows[] = {
        {"{host: 192.0.2.7}", "{host: 192.0.2.7}\n  peer: {host: 192.0.2.8, mode: listen}", "mode",
         "mode goes only with port"},
        {"{host: 192.0.2.7}", "{port: /dev/ttyS8, mode: listen}", "lan, address",
         "bus lan is only listened to (mode: listen): nothing can be switched there"},
        {"{host: 192.0.2.7}\nmeters:\n  grid: {role: grid, bus: board, unit: 2, map: sunspec}",
         "{host: 192.0.2.7}\n  tap: {port: /dev/ttyS8, mode: listen}\nmeters:\n"
         "  grid: {role: grid, bus: tap, unit: 2, map: sunspec}",
         "sunspec",
         "map: sunspec is found by asking, and bus tap is only listened to; write a map "
         "of the registers that the other master reads (sluice bus listen shows them)"},
    };
    static const struct mistake accepted[] = {
        {"{host: 192.0.2.7}\nmeters:\n  grid: {role: grid, bus: board, unit: 2, map: sunspec}",
         "{host: 192.0.2.7}\n  tap: {port: /dev/ttyS8, mode: listen}\nmeters:\n"
         "  grid: {role: grid, bus: tap, unit: 2, map: eastron-sdm630}",
         0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_a_motor_runs_long_and_rests_unless_it_is_written_otherwise)
{
    char *text = edited(small_house, "power: 1.1 kW",
                        "power: 1.1 kW\n    motor: yes\n    "
                        "settle_stop: 2 min");
    struct settings *calm = load_good(text), *usual = load_good(small_house);
    int pump = settings_find_load(calm, "pump");
    ck_assert_int_eq(calm->loads[pump].min_on_ms, 20 * MS_PER_MIN);
    ck_assert_int_eq(calm->loads[pump].min_off_ms, 10 * MS_PER_MIN);
    ck_assert_int_eq(calm->loads[pump].settle_start_ms, 10 * MS_PER_MIN);
    ck_assert_int_eq(calm->loads[pump].settle_stop_ms, 2 * MS_PER_MIN);
    ck_assert_int_eq(usual->loads[pump].min_on_ms, 10 * MS_PER_MIN);
    ck_assert_int_eq(usual->loads[pump].settle_start_ms, 3 * MS_PER_MIN);
    settings_free(calm);
    settings_free(usual);
    free(text);
}
END_TEST

START_TEST(test_a_group_limits_something)
{
    static const struct mistake rows[] = {
        {"{limit: 32 A}", "{}", "shed: {}",
         "group shed limits nothing: write limit, or one_at_a_time: yes"}};
    static const struct mistake accepted[] = {{"{limit: 32 A}", "{one_at_a_time: yes}", 0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

/* ---- loads ------------------------------------------------------------------------------------
 */

START_TEST(test_a_load_that_alone_passes_a_limit_could_never_start)
{
    static const struct mistake rows[] = {
        {"power: 3.6 kW", "power: 14.5 kW", "14.5 kW",
         "power: alone this exceeds the supply limit of 63 A: it could never start"},
        {"limit: 32 A", "limit: 4 A", "1.1 kW",
         "power: alone this exceeds the group's limit of 4 A: it could never start"},
        {"supply_limit: 63 A", "supply_limit: 15.6 A", "3.6 kW",
         "power: alone this exceeds the supply limit of 15.6 A: it could never start"},
    };
    /* 230 V x 63 A = 14.49 kW; and a set-point starts with its least */
    static const struct mistake accepted[] = {{"power: 3.6 kW", "power: 14.49 kW", 0, 0},
                                              {"power: 16 A", "power: 80 A", 0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_a_set_point_in_amps_is_six_at_least)
{
    static const struct mistake rows[] = {
        {"least: 6 A", "least: 5.9 A", "5.9 A",
         "least: a set-point in amps is at least 6 A (IEC 61851-1); with less to spare a charger "
         "pauses"},
        {"least: 6 A", "least: 1.3 kW", "output: {kind: register",
         "a set-point in amps is at least 6 A (IEC 61851-1), but least is only 1300 W, 230 W an "
         "amp"},
        {"least: 6 A", "least: 17 A", "17 A", "least: 17 A is more than power"},
        {"least: 6 A", "least: 6 A\n    step: 17 A", "17 A", "step: 17 A is more than power"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_set_point_in_watts_may_be_less)
{
    char *text = edited(small_house, "least: 6 A", "least: 300 W");
    char *whole = edited(text, "count_current: 100 mA", "count_power: 1 W");
    settings_free(load_good(whole));
    free(whole);
    free(text);
}
END_TEST

START_TEST(test_a_kind_of_load_has_only_what_makes_sense_for_it)
{
    static const struct mistake rows[] = {
        {"power: 1.1 kW", "power: 1.1 kW\n    least: 6 A", "least: 6 A\n    group",
         "least goes only with kind: setpoint"},
        {"power: 1.1 kW", "power: 1.1 kW\n    stages: [1 kW]", "stages",
         "stages goes only with kind: staged"},
        {"power: 1.1 kW", "power: 1.1 kW\n    heat_up: 2 h", "heat_up",
         "heat_up needs thermostat: yes, which shows when it is hot"},
        {"power: 1.1 kW", "power: 1.1 kW\n    uses_spare: no\n    start_fraction: 50 %",
         "start_fraction", "start_fraction goes only with uses_spare: yes"},
        {"power: 1.1 kW", "kind: staged", "pump",
         "load pump needs stages: the power of each contactor"},
        {"power: 1.1 kW\n    group: shed\n    " PUMP,
         "kind: staged\n    stages: []\n    output: {bus: board, unit: 10, address: [1]}", "[]",
         "stages: lists no power"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_fraction_from_the_tariff_needs_a_tariff)
{
    char *priced =
        edited(small_house, "power: 1.1 kW", "power: 1.1 kW\n    start_fraction: derived");
    char *text = edited(priced,
                        "tariff:\n  import:\n    - {price: 0.30 /kWh}\n    - {price: 0.20 /kWh, "
                        "hours: \"22:00-07:00\"}\n",
                        "");
    settings_free(load_good(priced));
    expect_only(text, "pump", "the start fraction is to be derived, but there is no tariff");
    free(text);
    free(priced);
}
END_TEST

/* ---- a water heater that learns -----------------------------------------------------------------
 */

#define WATER "thermostat: yes\n    water: "
#define LEARNT "thermostat: yes\n    start_fraction: learnt\n    water: "

START_TEST(test_a_learning_heater_has_what_it_learns_with)
{
    static const struct mistake rows[] = {
        {"thermostat: yes", "thermostat: yes\n    start_fraction: learnt", "learnt",
         "start_fraction: learnt needs the section water: what is heated"},
        {"power: 16 A",
         "power: 16 A\n    thermostat: yes\n    start_fraction: learnt\n    water: {volume: 315 L}",
         "learnt",
         "start_fraction: learnt goes with a switched load, or one with a meter of its own (role: "
         "load): else its thermostat cannot be seen to open"},
        {"power: 1.1 kW", "power: 1.1 kW\n    water: {volume: 315 L}", "water",
         "water needs thermostat: yes, which shows when it is hot"},
        {"thermostat: yes",
         "thermostat: yes\n    uses_spare: no\n    start_fraction: learnt\n"
         "    water: {volume: 315 L}",
         "start_fraction", "start_fraction goes only with uses_spare: yes"},
    };
    static const struct mistake good[] = {
        {"thermostat: yes", LEARNT "{volume: 315 L}", NULL, NULL}};
    EXPECT(rows);
    expect_accepted(good, COUNT_OF(good));
}
END_TEST

START_TEST(test_learning_needs_prices)
{
    char *learning = edited(small_house, "thermostat: yes", LEARNT "{volume: 315 L}");
    char *text = edited(learning,
                        "tariff:\n  import:\n    - {price: 0.30 /kWh}\n    - {price: 0.20 /kWh, "
                        "hours: \"22:00-07:00\"}\n",
                        "");
    expect_only(text, "learnt", "start_fraction: learnt needs the section tariff with its prices");
    free(text);
    free(learning);
}
END_TEST

START_TEST(test_a_tank_is_one_that_there_can_be)
{
    static const struct mistake rows[] = {
        {"thermostat: yes", WATER "{set: 65 °C}", "water",
         "water needs volume: What the tank holds, by its nameplate."},
        {"thermostat: yes", WATER "{volume: 5 L}", "5 L",
         "volume: 5 L is out of range; from 10 L to 2000 L"},
        {"thermostat: yes", WATER "{volume: 315 kg}", "315 kg",
         "volume: 315 kg: \"kg\" is no unit known here; expected a volume, such as 250 L"},
        {"thermostat: yes", WATER "{volume: 315 L, set: 30 °C}", "30 °C",
         "set: 30 °C is out of range; from 40 °C to 90 °C"},
        {"thermostat: yes", WATER "{volume: 315 L, set: 40 °C, room: 42 °C}", "water",
         "water: set is not above the cold water and the room"},
        {"thermostat: yes", WATER "{volume: 315 L, set: 40 °C, cold: 35 °C}", "water",
         "water: the hysteresis reaches down to the cold water"},
        {"thermostat: yes", WATER "{volume: 315 L, usable: 110 %}", "110 %",
         "usable: 110 % is out of range; from 20 % to 100 %"},
        {"thermostat: yes", WATER "{volume: 315 L, sett: 60 °C}", "sett",
         "water has no setting \"sett\"; do you mean \"set\"?"},
    };
    EXPECT(rows);
}
END_TEST

/* AS/NZS 4692.2, 2005, at energyrating.gov.au: 160 L 1.96 kWh, 315 L 2.66 kWh. */
START_TEST(test_a_standing_loss_that_is_left_out_follows_the_volume)
{
    static const struct {
        const char *water;
        int32_t loss_mwh;
    } rows[] = {
        {WATER "{volume: 315 L}", 2660000},
        {WATER "{volume: 160 L}", 1960000},
        {WATER "{volume: 180 L}", 2065000}, /* half way to 200 L, 2.17 kWh */
        {WATER "{volume: 315 L, standing_loss: 1.9 kWh}", 1900000},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = edited(small_house, "thermostat: yes", rows[k].water);
        struct settings *settings = load_good(text);
        ck_assert_int_eq(settings->loads[0].water.loss_mwh, rows[k].loss_mwh);
        settings_free(settings);
        free(text);
    }
    int32_t last_mwh = 0;
    for (int32_t litres = 10; litres <= 2000; litres++) {
        int32_t loss_mwh = heat_usual_loss_mwh(litres * 1000);
        ck_assert_int_gt(loss_mwh, last_mwh);
        last_mwh = loss_mwh;
    }
    ck_assert_int_lt(last_mwh, 7000000);
}
END_TEST

/* ---- floors -----------------------------------------------------------------------------------
 */

START_TEST(test_a_floor_that_does_not_fit_its_hours_is_said_at_its_line)
{
    static const struct mistake rows[] = {
        {"thermostat: yes", "thermostat: yes\n    hours: \"09:00-12:00\"", FLOOR,
         "this floor needs 3 h 35 min (run, reserve and minimum off), but its hours and daily "
         "maximum permit only 3 h before the deadline"},
        {"thermostat: yes", "thermostat: yes\n    daily_maximum: 2 h", FLOOR,
         "a week's deadlines of this floor ask for more than its hours and daily maximum permit in "
         "a week"},
        {"- " FLOOR, "- " FLOOR "\n      - {amount: 30 h, by: \"06:00\"}", "{amount: 30 h",
         "this floor needs 1 d 6 h 35 min (run, reserve and minimum off), but its hours and daily "
         "maximum permit only 1 d before the deadline"},
        {"power: 1.1 kW", "power: 1.1 kW\n    daily_maximum: 5 min", "pump",
         "minimum on is longer than the daily maximum: it could never start"},
    };
    static const struct mistake accepted[] = {
        {"thermostat: yes", "thermostat: yes\n    hours: \"09:00-12:35\"", 0, 0},
        {FLOOR, "{amount: 30 h, by: \"06:00\", days: sun}", 0, 0},
    };
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_a_floor_suits_its_load)
{
    static const struct mistake rows[] = {
        {"    thermostat: yes\n    " HEATER "\n    floors:\n      - ",
         "    " HEATER "\n    floors:\n      - {measure: satisfied, amount: 4 h, by: \"17:00\"}\n"
         "      - ",
         "{measure", "\"satisfied\" needs thermostat: yes, only a thermostat can show it"},
        {CAR, CAR "\n    floors: [{amount: 2 h, by: \"06:00\"}]", "{amount: 2 h",
         "a floor of a staged or set-point load is measured as energy: time says nothing where "
         "power varies"},
        {CAR,
         "thermostat: yes\n    " CAR
         "\n    floors: [{measure: satisfied, amount: 2 h, by: \"06:00\"}]",
         "{measure",
         "\"satisfied\" can only be seen on a switched load, or one with its own meter"},
        {FLOOR, "{amount: 3 h, by: \"17:00\", days: daily, every_days: 7}", "days: daily",
         "write days or every_days, not both"},
        {"- " FLOOR,
         "- " FLOOR "\n      - " FLOOR "\n      - " FLOOR "\n      - " FLOOR
         "\n      - {amount: 1 h, by: \"16:00\"}",
         "{amount: 1 h", "a load has at most 4 floors"},
    };
    static const struct mistake accepted[] = {
        {CAR, CAR "\n    floors: [{measure: energy, amount: 8 kWh, by: \"06:00\"}]", 0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_no_floor_depends_on_the_broker)
{
    static const struct mistake rows[] = {
        {HEATER, "output: {kind: topic, topic: a/set}", FLOOR,
         "a floor must not depend on the broker: this load is switched over MQTT"}};
    EXPECT(rows);
}
END_TEST

START_TEST(test_cheapest_hours_need_prices)
{
    char *cheap = edited(small_house, FLOOR, "{amount: 3 h, by: \"17:00\", grid: cheapest_hours}");
    char *text = edited(cheap,
                        "tariff:\n  import:\n    - {price: 0.30 /kWh}\n    - {price: 0.20 /kWh, "
                        "hours: \"22:00-07:00\"}\n",
                        "");
    settings_free(load_good(cheap));
    expect_only(text, "cheapest_hours",
                "grid: cheapest_hours needs the section tariff with its import prices");
    free(text);
    free(cheap);
}
END_TEST

/* ---- outputs ----------------------------------------------------------------------------------
 */

START_TEST(test_two_loads_on_one_contactor_are_a_mistake)
{
    static const struct mistake rows[] = {
        {PUMP, HEATER, HEATER "\n  car", "loads heater and pump have the same output"},
        {"power: 1.1 kW\n    group: shed\n    " PUMP,
         STAGED "output: {bus: board, unit: 10, address: [4, 0]}",
         "output: {bus: board, unit: 10, address: [4",
         "loads heater and pump have the same output"},
        {PUMP,
         "output: {kind: line, line: 4}\n  lamp: {power: 1 kW, output: {kind: line, line: 4}}",
         "output: {kind: line, line: 4}}", "loads pump and lamp have the same output"},
        {PUMP,
         "output: {kind: topic, topic: a}\n  lamp: {power: 1 kW, output: {kind: topic, topic: a}}",
         "output: {kind: topic, topic: a}}", "loads pump and lamp have the same output"},
    };
    /* a coil and a register of one address are two things */
    static const struct mistake accepted[] = {
        {CAR, "output: {kind: register, bus: board, unit: 10, address: 0, count_current: 100 mA}",
         0, 0},
        {PUMP, "output: {bus: lan, unit: 10, address: 0}", 0, 0},
        {PUMP, "output: {bus: board, unit: 11, address: 0}", 0, 0},
    };
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_stages_and_addresses_are_as_many)
{
    char *text = edited(small_house, "power: 1.1 kW\n    group: shed\n    " PUMP,
                        STAGED "output: {bus: board, unit: 10, address: 1}");
    expect_only(text, "1}\n  car", "address: 2 stages need as many addresses, not 1");
    free(text);
    text = edited(small_house, "power: 1.1 kW\n    group: shed\n    " PUMP,
                  STAGED "output: {bus: board, unit: 10, address: [1, 1]}");
    expect_only(text, "output: {bus: board, unit: 10, address: [1",
                "the same address is there twice");
    free(text);
    text = edited(small_house, "power: 1.1 kW\n    group: shed\n    " PUMP,
                  STAGED "output: {bus: board, unit: 10, address: [1, 2]}");
    settings_free(load_good(text));
    free(text);
    static const struct mistake rows[] = {
        {"power: 1.1 kW\n    group: shed\n    " PUMP, STAGED "output: {kind: line, line: 4}",
         "output: {kind: line", "a staged load needs an output of kind coil or register"},
        {"power: 1.1 kW\n    group: shed\n    " PUMP,
         "kind: staged\n    stages: [1 kW, 1 kW, 1 kW, 1 kW, 2 kW]\n    output: {bus: board, unit: "
         "10, "
         "address: [1, 2, 3, 4]}",
         "2 kW", "stages: a load has at most 4"},
        {"power: 1.1 kW\n    group: shed\n    " PUMP,
         "kind: staged\n    stages: [6 A]\n    output: {bus: board, unit: 10, address: [1]}",
         "6 A]", "stages: 6 A is a current; expected a power, such as 3.6 kW"},
        {PUMP, "output: {bus: board, unit: 10, address: [1, 2]}", "[1, 2]",
         "address: several go only with loads of kind staged"},
        {PUMP, "output: {bus: board, unit: 10, address: [1, 2, 3, 4, 5]}", "5]",
         "address: an output has at most 4"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_fail_state_suits_its_contact_and_its_load)
{
    static const struct mistake rows[] = {
        {HEATER, "output: {bus: board, unit: 10, address: 0, normally_closed: yes}",
         "output: {bus: board, unit: 10, address: 0, n",
         "a load on the normally closed contact is on when the board is dead: write fail_state: "
         "on, or wire it to the other contact"},
        {PUMP, "output: {bus: board, unit: 10, address: 1, fail_state: on}",
         "output: {bus: board, unit: 10, address: 1, f",
         "fail_state: on is only for a load with thermostat: yes, which stops by itself"},
        {"count_current: 100 mA", "count_current: 100 mA, fail_state: on", "on}\nmqtt",
         "fail_state: a set-point falls to 0, it cannot fail to on"},
    };
    static const struct mistake accepted[] = {
        {HEATER, "output: {bus: board, unit: 10, address: 0, normally_closed: yes, fail_state: on}",
         0, 0}};
    EXPECT(rows);
    ACCEPT(accepted);
}
END_TEST

START_TEST(test_an_output_has_what_its_kind_needs_and_nothing_else)
{
    static const struct mistake rows[] = {
        {CAR, "output: {bus: board, unit: 10, address: 7}",
         "output: {bus: board, unit: 10, address: 7",
         "a set-point needs an output of kind register or topic: the supply of such a load is "
         "never switched"},
        {", count_current: 100 mA", "", "output: {kind: register",
         "a set-point needs count_power or count_current: what one count means"},
        {"count_current: 100 mA", "count_current: 100 mA, count_power: 1 W", "output: {kind: reg",
         "write count_power or count_current, not both"},
        {PUMP, "output: {bus: board, unit: 10, address: 1, count_power: 1 W}", "count_power",
         "count_power goes only with kind: register or topic"},
        {PUMP, "output: {kind: register, bus: board, unit: 10, address: 1, count_power: 1 W}",
         "output: {kind: register, bus: board",
         "count_power and count_current go only with loads of kind setpoint"},
        {PUMP, "output: {kind: register, bus: board, unit: 10, address: 1, on_value: 0}",
         "output: {kind: register, bus: board", "on_value and off_value are the same"},
        {PUMP, "output: {kind: line}", "output: {kind: line",
         "output needs line: its offset on the chip"},
        {PUMP, "output: {kind: line, line: 4, address: 1}", "address: 1",
         "address goes only with kind: coil or register"},
        {PUMP, "output: {kind: topic}", "output: {kind: topic",
         "output needs topic: where orders are published"},
        {PUMP, "output: {kind: topic, topic: \"a/#\"}", "\"a/#",
         "topic: cannot be published to: no + or #, no $ at its beginning"},
        {PUMP, "output: {kind: topic, topic: a/set, state_topic: a/+}", "a/+",
         "state_topic: one topic, without + or #, and no $ at its beginning"},
        {PUMP, "output: {kind: topic, topic: a/set, on_payload: off}", "output: {kind: topic",
         "on_payload and off_payload are the same"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_an_output_over_the_broker_needs_a_broker)
{
    char *topic = edited(small_house, PUMP, "output: {kind: topic, topic: a/set}");
    char *text = edited(topic, "mqtt:\n  host: localhost\n", "");
    settings_free(load_good(topic));
    expect_only(text, "output: {kind: topic", "an output of kind topic needs the section mqtt");
    free(text);
    free(topic);
}
END_TEST

/* ---- the broker -------------------------------------------------------------------------------
 */

START_TEST(test_what_the_broker_needs_goes_together)
{
#define BROKER(more) "host: localhost", "host: localhost\n  " more
    static const struct mistake rows[] = {
        {BROKER("ca_file: /a"), "ca_file", "ca_file goes only with tls: yes"},
        {BROKER("tls: yes\n  certificate_file: /a"), "certificate_file",
         "certificate_file needs key_file"},
        {BROKER("tls: yes\n  key_file: /a"), "key_file", "key_file needs certificate_file"},
        {BROKER("password_file: a"), "password_file", "password_file needs user"},
        {BROKER("client_id: sluice-1"), "sluice-1",
         "client_id: only letters and digits, not \"sluice-1\""},
        {BROKER("domain: my/house"), "my/house",
         "domain: up to 31 of a-z, 0-9 and hyphens, not \"my/house\""},
        {BROKER("device: Sluice"), "Sluice",
         "device: up to 31 of a-z, 0-9 and hyphens, not \"Sluice\""},
    };
    EXPECT(rows);
}
END_TEST

/* ---- several ----------------------------------------------------------------------------------
 */

START_TEST(test_several_mistakes_come_in_one_go_in_the_order_of_the_file)
{
    static const char *const text =
        "loads:\n"
        "  b: {power: 1, output: {bus: x, address: 0}}\n"
        "  c: {powr: 1 kW, power: 2 kW, output: {bus: l, address: 0}}\n"
        "mqtt: {hots: a, host: b}\n"
        "site: {timezone: UTC0, supply_limit: 1 A}\n"
        "meters: {g: {role: grid, bus: l, map: eastron-sdm631, unit: 0}}\n"
        "buses:\n"
        "  l: {host: h, baud: 9600}\n"
        "extra: 1\n";
    static const char *const says[] = {
        "2:14 power: 1 has no unit: write a power, such as 3.6 kW",
        "2:31 there is no bus \"x\"",
        "3:7 c has no setting \"powr\"; do you mean \"power\"?",
        "4:8 mqtt has no setting \"hots\"; do you mean \"host\"?",
        "5:38 supply_limit: 1 A is out of range; from 5 A to 2000 A",
        "6:39 map: there is no eastron-sdm631.yaml in " MAPS_DIR
        "; do you mean \"eastron-sdm630\"?",
        "6:61 unit: 0 is out of range; from 1 to 247",
        "8:16 baud goes only with port",
        "9:1 the file has no setting \"extra\"",
    };
    struct settings_troubles troubles;
    ck_assert_ptr_null(load_text(text, &troubles));
    for (int k = 0; k < troubles.count; k++) {
        char found[TROUBLE_PLACE_MAX + TROUBLE_TEXT_MAX];
        snprintf(found, sizeof(found), "%s %s", strchr(troubles.item[k].place, ':') + 1,
                 troubles.item[k].text);
        ck_assert_str_eq(found, k < (int)COUNT_OF(says) ? says[k] : "nothing more");
    }
    ck_assert_int_eq(troubles.count, COUNT_OF(says));
    settings_troubles_free(&troubles);
}
END_TEST

START_TEST(test_after_a_hundred_mistakes_no_more_are_listed)
{
    char text[8192] = "", line[32];
    struct settings_troubles troubles;
    for (int k = 0; k < 300; k++) {
        snprintf(line, sizeof(line), "zzzzzzz%d: 1\n", k);
        strcat(text, line);
    }
    ck_assert_ptr_null(load_text(text, &troubles));
    ck_assert_int_eq(troubles.count, 100);
    ck_assert_ptr_nonnull(strstr(troubles.item[99].text, "there may be more"));
    settings_troubles_free(&troubles);
}
END_TEST

START_TEST(test_a_room_that_is_full_says_so_once)
{
    char many[8192] = "loads:\n", line[96];
    for (int k = 0; k < SETTINGS_LOADS_MAX + 2; k++) {
        snprintf(line, sizeof(line),
                 "  l%d: {power: 1 kW, output: {bus: board, unit: 10, address: %d}}\n", k, 20 + k);
        strcat(many, line);
    }
    char *text = edited(small_house, "loads:\n", many);
    expect_only(text, "l32:", "loads has more than 32 entries");
    free(text);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_three_phases_have_no_default_billing_and_no_default_phase,
        test_two_phases_are_none_of_ours,
        test_each_meter_has_a_role_that_fits_the_site,
        test_each_tank_has_at_most_one_thermometer_and_each_thermometer_one_tank,
        test_a_thermometer_needs_no_load_where_only_one_heats_water,
        test_the_first_price_always_holds,
        test_a_line_is_serial_or_tcp_and_stands_once,
        test_on_a_line_that_is_listened_to_nothing_is_switched_or_asked,
        test_a_motor_runs_long_and_rests_unless_it_is_written_otherwise,
        test_a_group_limits_something,
        test_a_load_that_alone_passes_a_limit_could_never_start,
        test_a_set_point_in_amps_is_six_at_least,
        test_a_set_point_in_watts_may_be_less,
        test_a_kind_of_load_has_only_what_makes_sense_for_it,
        test_a_fraction_from_the_tariff_needs_a_tariff,
        test_a_learning_heater_has_what_it_learns_with,
        test_learning_needs_prices,
        test_a_tank_is_one_that_there_can_be,
        test_a_standing_loss_that_is_left_out_follows_the_volume,
        test_a_floor_that_does_not_fit_its_hours_is_said_at_its_line,
        test_a_floor_suits_its_load,
        test_no_floor_depends_on_the_broker,
        test_cheapest_hours_need_prices,
        test_two_loads_on_one_contactor_are_a_mistake,
        test_stages_and_addresses_are_as_many,
        test_a_fail_state_suits_its_contact_and_its_load,
        test_an_output_has_what_its_kind_needs_and_nothing_else,
        test_an_output_over_the_broker_needs_a_broker,
        test_what_the_broker_needs_goes_together,
        test_several_mistakes_come_in_one_go_in_the_order_of_the_file,
        test_after_a_hundred_mistakes_no_more_are_listed,
        test_a_room_that_is_full_says_so_once,
    };
    return suite_run("sense", tests, COUNT_OF(tests));
}
