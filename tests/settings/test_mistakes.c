/* test_mistakes.c - each mistake that a single row can have: what is said, and where.
 *
 * The messages are written out, so that a change of one is seen and read. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"

#define EXPECT(rows) expect_mistakes((rows), COUNT_OF(rows))

START_TEST(test_the_small_house_is_accepted)
{
    settings_free(load_good(small_house));
}
END_TEST

START_TEST(test_line_and_column_are_those_an_editor_shows)
{
    struct settings_troubles troubles;
    ck_assert_ptr_null(load_text("site:\n  timezone: UTC0\n  supply_limit: 63\n"
                                 "buses: {b: {host: h}}\n"
                                 "meters: {g: {role: grid, bus: b, map: sunspec}}\n"
                                 "loads: {w: {power: 1 kW, output: {bus: b, address: 0}}}\n",
                                 &troubles));
    ck_assert_int_eq(troubles.count, 1);
    ck_assert_ptr_nonnull(strstr(troubles.item[0].place, ".yaml:3:17"));
    settings_troubles_free(&troubles);
}
END_TEST

START_TEST(test_an_unknown_key_names_the_nearest_of_its_section)
{
    static const struct mistake rows[] = {
        {"  phases: 1", "  phase: 1", "phase: 1",
         "site has no setting \"phase\"; do you mean \"phases\"?"},
        {"loads:", "laods: {}\nloads:", "laods",
         "the file has no setting \"laods\"; do you mean \"loads\"?"},
        {"    thermostat: yes", "    thermostat: yes\n    minimun_on: 5 min", "minimun_on",
         "heater has no setting \"minimun_on\"; do you mean \"minimum_on\"?"},
        {"unit: 10, address: 0", "unit: 10, address: 0, fail-state: off", "fail-state",
         "output has no setting \"fail-state\"; do you mean \"fail_state\"?"},
        {"by: \"17:00\"", "by: \"17:00\", evrey_days: 7", "evrey_days",
         "a floor has no setting \"evrey_days\"; do you mean \"every_days\"?"},
        {"map: sunspec", "map: sunspec, invert: yes", "invert",
         "grid has no setting \"invert\"; do you mean \"inverted\"?"},
        {"host: 192.0.2.7", "host: 192.0.2.7, tcp-port: 1502", "tcp-port",
         "lan has no setting \"tcp-port\"; do you mean \"tcp_port\"?"},
        {"price: 0.30 /kWh", "price: 0.30 /kWh, month: jul", "month",
         "a band has no setting \"month\"; do you mean \"months\"?"},
        {"limit: 32 A", "limit: 32 A, limits: 32 A", "limits",
         "shed has no setting \"limits\"; do you mean \"limit\"?"},
        {"  host: localhost", "  host: localhost\n  qwertyuiop: 1", "qwertyuiop",
         "mqtt has no setting \"qwertyuiop\""},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_key_that_stands_twice_names_the_first)
{
    static const struct mistake rows[] = {
        {"  supply_limit: 63 A", "  supply_limit: 63 A\n  phases: 3", "phases: 3",
         "\"phases\" is here twice; the first is at 3:3"},
        {"unit: 10, address: 0", "unit: 10, address: 0, unit: 11", "unit: 11",
         "\"unit\" is here twice; the first is at 20:26"},
        {"mqtt:", "site: {}\nmqtt:", "site: {}", "\"site\" is here twice; the first is at 1:1"},
        {"  car:\n", "  pump: {power: 1, output: {bus: board, unit: 10, address: 0}}\n  car:\n",
         "pump: {power: 1", "\"pump\" is here twice; the first is at 23:3"},
        {"  lan: {", "  lan: {host: 192.0.2.8}\n  lan: {", "lan: {host: 192.0.2.7}",
         "\"lan\" is here twice; the first is at 11:3"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_bare_number_has_no_unit)
{
    static const struct mistake rows[] = {
        {"power: 3.6 kW", "power: 3600", "3600",
         "power: 3600 has no unit: write a power, such as 3.6 kW"},
        {"supply_limit: 63 A", "supply_limit: 63", "63",
         "supply_limit: 63 has no unit: write a current, such as 16 A"},
        {"amount: 3 h", "amount: 3", "3, by",
         "amount: 3 has no unit: write a duration, such as 2 h 30 min"},
        {"price: 0.30 /kWh", "price: 0.30", "0.30",
         "price: 0.30 has no unit: write a price of energy, such as 0.30 /kWh"},
        {"power: 1.1 kW", "power: 1.1 kW\n    start_fraction: 0.8", "0.8",
         "start_fraction: 0.8 has no unit: write a share, such as 80 %"},
        {"power: 1.1 kW", "power: 1.1 kW\n    minimum_on: 600", "600",
         "minimum_on: 600 has no unit: write a duration, such as 2 h 30 min"},
        {"power: 16 A", "power: 16", "16\n    least",
         "power: 16 has no unit: write a power, such as 3.6 kW, or a current, such as 16 A"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_words_that_may_stand_for_a_quantity_are_named)
{
    static const struct mistake rows[] = {
        {"power: 1.1 kW", "power: 1.1 kW\n    start_fraction: learned", "learned",
         "start_fraction: \"learned\" is not a share, such as 80 %; or write derived or "
         "learnt"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_unit_of_another_kind_is_said_to_be_one)
{
    static const struct mistake rows[] = {
        {"power: 3.6 kW", "power: 3.6 kWh", "3.6 kWh",
         "power: 3.6 kWh is an energy; expected a power, such as 3.6 kW"},
        {"supply_limit: 63 A", "supply_limit: 14 kW", "14 kW",
         "supply_limit: 14 kW is a power; expected a current, such as 16 A"},
        {"amount: 3 h", "amount: 6 kWh", "6 kWh",
         "amount: 6 kWh is an energy; expected a duration, such as 2 h 30 min"},
        {"amount: 3 h", "measure: energy, amount: 6 kW", "6 kW,",
         "amount: 6 kW is a power; expected an energy, such as 6 kWh"},
        {"by: \"17:00\"", "by: 5 h", "5 h",
         "by: 5 h is a duration; expected a time of day, such as 17:00"},
        {"power: 3.6 kW", "power: 3.6 kw", "3.6 kw", "power: 3.6 kw: the unit is written kW"},
        {"power: 3.6 kW", "power: 3,6 kW", "3,6 kW",
         "power: 3,6 kW: decimals are written with a point, not a comma"},
        {"power: 3.6 kW", "power: 5 PS", "5 PS",
         "power: 5 PS: \"PS\" is no unit known here; expected a power, such as 3.6 kW"},
        {"unit: 2", "unit: two", "two", "unit: \"two\" is not a whole number, such as 4"},
        {"unit: 2", "unit: 2.5", "2.5",
         "unit: 2.5 is finer than 1, the smallest step of a whole number"},
        {"  host: localhost", "  host: localhost\n  keep_alive: -60 s", "-60 s",
         "keep_alive: -60 s: a duration is never negative"},
        {"power: 3.6 kW", "power: 99999999999999999999 kW", "9999",
         "power: 99999999999999999999 kW is too large"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_what_is_out_of_range_says_from_where_to_where)
{
    static const struct mistake rows[] = {
        {"unit: 2", "unit: 248", "248", "unit: 248 is out of range; from 1 to 247"},
        {"unit: 2", "unit: 0", "0, map", "unit: 0 is out of range; from 1 to 247"},
        {"supply_limit: 63 A", "supply_limit: 4 A", "4 A",
         "supply_limit: 4 A is out of range; from 5 A to 2000 A"},
        {"power: 3.6 kW", "power: 0 W", "0 W", "power: 0 W is out of range; from 1 W to 1000 kW"},
        {"power: 3.6 kW", "power: -1 W", "-1 W",
         "power: -1 W is out of range; from 1 W to 1000 kW"},
        {"power: 16 A", "power: 9000000000 A", "9000000000 A",
         "power: 9000000000 A is out of range; from 1 W to 1000 kW"},
        {"power: 1.1 kW", "power: 1.1 kW\n    priority: 0", "0\n    group",
         "priority: 0 is out of range; from 1 to 1000"},
        {"power: 1.1 kW", "power: 1.1 kW\n    starts_per_hour: 13", "13",
         "starts_per_hour: 13 is out of range; from 0 to 12"},
        {"power: 1.1 kW", "power: 1.1 kW\n    daily_maximum: 25 h", "25 h",
         "daily_maximum: 25 h is out of range; from 1 min to 1 d"},
        {"by: \"17:00\"", "by: \"17:00\", every_days: 1", "1}",
         "every_days: 1 is out of range; from 2 to 31"},
        {"amount: 3 h", "amount: 0 h", "0 h", "amount: 0 h cannot be kept"},
        {"amount: 3 h", "amount: 32 d", "32 d", "amount: 32 d cannot be kept"},
        {"by: \"17:00\"", "by: \"24:01\"", "\"24:01\"",
         "by: \"24:01\" is not a time of day, such as 17:00"},
        {"address: 0", "address: 65536", "65536",
         "address: a whole number from 0 to 65535, not \"65536\""},
        {"address: 0", "address: []", "[]", "address: lists none"},
        {"address: 0", "address: -1", "-1", "address: a whole number from 0 to 65535, not \"-1\""},
        {"mqtt:", "storage: {history: 12 h}\nmqtt:", "12 h",
         "history: 12 h is out of range; from 1 d to 4000 d"},
        {"mqtt:", "storage: {history: 36 h}\nmqtt:", "36 h",
         "history: 36 h is not in whole steps of 1 d"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_word_that_is_no_choice_lists_those_that_are)
{
    static const struct mistake rows[] = {
        {"role: grid", "role: mains", "mains",
         "role: \"mains\" is not one of the choices; write grid, solar, battery, load or tank"},
        {"kind: setpoint", "kind: dimmer", "dimmer",
         "kind: \"dimmer\" is not one of the choices; write switched, staged, setpoint or request"},
        {"output: {bus: board, unit: 10, address: 0",
         "output: {kind: relay, bus: board, address: 0", "relay",
         "kind: \"relay\" is not one of the choices; write coil, register, topic or line"},
        {"address: 0", "address: 0, fail_state: last", "last",
         "fail_state: \"last\" is not one of the choices; write off or on"},
        {"amount: 3 h", "measure: heat, amount: 3 h", "heat,",
         "measure: \"heat\" is not one of the choices; write time, energy or satisfied"},
        {"port: /dev/ttyS9", "port: /dev/ttyS9, parity: E", "E}",
         "parity: \"E\" is not one of the choices; write none, even or odd"},
        {"  phases: 1", "  phases: 1\n  billing: gross", "gross",
         "billing: \"gross\" is not one of the choices; write net or per_phase"},
        {"thermostat: yes", "thermostat: true", "true", "thermostat: is yes or no, not \"true\""},
        {"thermostat: yes", "thermostat: on", "on\n", "thermostat: is yes or no, not \"on\""},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_what_is_missing_is_said_at_the_section_that_needs_it)
{
    static const struct mistake rows[] = {
        {"  timezone: Australia/Sydney\n", "", "site",
         "site needs timezone: The time zone of the household (timedatectl list-timezones), or a "
         "POSIX "
         "rule such as AEST-10AEDT,M10.1.0,M4.1.0/3."},
        {"role: grid, bus: board", "role: grid", "grid: {",
         "grid needs bus: The bus it is on, by its name under buses."},
        {"    power: 3.6 kW\n", "", "heater",
         "load heater needs power: its nameplate, such as 3.6 kW"},
        {"    least: 6 A\n", "", "car",
         "load car needs least: the least that its set-point may be, such as 6 A"},
        {"    output: {bus: board, unit: 10, address: 1}\n", "", "pump",
         "load pump needs output: what switches it"},
        {"bus: board, unit: 10, address: 0", "unit: 10, address: 0", "output",
         "output needs bus: one of those under buses"},
        {"bus: board, unit: 10, address: 0", "bus: board, unit: 10", "output",
         "output needs address: the coil or register, from 0"},
        {"amount: 3 h, by", "by", "{by", "a floor needs amount: such as 3 h"},
        {"amount: 3 h, by: \"17:00\"", "amount: 3 h", "{amount",
         "a floor needs by: Its deadline, a clock time."},
        {"price: 0.30 /kWh", "", "{}", "a band needs price: Price of a kWh imported."},
        {"  host: localhost", "  port: 1883", "mqtt",
         "mqtt needs host: The broker's name or address; beyond this machine with TLS."},
        {"mqtt:\n  host: localhost\n", "mqtt:\n", "mqtt", "the section mqtt is empty"},
        {"  lan: {host: 192.0.2.7}", "  lan: {}", "lan",
         "bus lan needs either port (serial) or host (Modbus TCP)"},
    };
    EXPECT(rows);
}
END_TEST

/* The key that is wrong names what was meant: that this one is missing goes without saying. */
START_TEST(test_a_required_key_that_is_misspelt_is_one_mistake)
{
    static const struct mistake rows[] = {
        {"timezone:", "timezon:", "timezon:",
         "site has no setting \"timezon\"; do you mean \"timezone\"?"},
        {"timezone:", "tz:", "tz:", "site has no setting \"tz\"; here that is \"timezone\""},
        {"supply_limit:", "main_fuse:", "main_fuse:",
         "site has no setting \"main_fuse\"; here that is \"supply_limit\""},
        {"{price: 0.30 /kWh}", "{cost: 0.30 /kWh}", "cost",
         "a band has no setting \"cost\"; here that is \"price\""},
        {"{host: 192.0.2.7}", "{hots: 192.0.2.7}", "hots",
         "lan has no setting \"hots\"; do you mean \"host\"?"},
        {"{port: /dev/ttyS9}", "{serial_port: /dev/ttyS9}", "serial_port",
         "board has no setting \"serial_port\"; here that is \"port\""},
        {"{role: grid", "{type: grid", "type: grid",
         "grid has no setting \"type\"; here that is \"role\""},
        {"map: sunspec", "mpa: sunspec", "mpa",
         "grid has no setting \"mpa\"; do you mean \"map\"?"},
        {"power: 3.6 kW", "powr: 3.6 kW", "powr",
         "heater has no setting \"powr\"; do you mean \"power\"?"},
        {"power: 3.6 kW", "wattage: 3.6 kW", "wattage",
         "heater has no setting \"wattage\"; here that is \"power\""},
        {"least: 6 A", "min_current: 6 A", "min_current",
         "car has no setting \"min_current\"; here that is \"least\""},
        {"power: 1.1 kW", "kind: staged\n    steps: [1 kW]", "steps",
         "pump has no setting \"steps\"; here that is \"stages\""},
        {"output: {bus: board, unit: 10, address: 1}", "ouput: {bus: board, unit: 10, address: 1}",
         "ouput", "pump has no setting \"ouput\"; do you mean \"output\"?"},
        {"{bus: board, unit: 10, address: 0}", "{buss: board, unit: 10, address: 0}", "buss",
         "output has no setting \"buss\"; do you mean \"bus\"?"},
        {"unit: 10, address: 0", "unit: 10, relay: 0", "relay",
         "output has no setting \"relay\"; here that is \"address\""},
        {"{bus: board, unit: 10, address: 1}", "{kind: line, pin: 17}", "pin",
         "output has no setting \"pin\"; here that is \"line\""},
        {"{bus: board, unit: 10, address: 1}", "{kind: topic, topc: a/b}", "topc",
         "output has no setting \"topc\"; do you mean \"topic\"?"},
        {"count_current:", "count_curent:", "count_curent",
         "output has no setting \"count_curent\"; do you mean \"count_current\"?"},
        {"{amount: 3 h", "{duration: 3 h", "duration",
         "a floor has no setting \"duration\"; here that is \"amount\""},
        {"by: \"17:00\"", "until: \"17:00\"", "until",
         "a floor has no setting \"until\"; here that is \"by\""},
        {"thermostat: yes", "thermostat: yes\n    water: {litres: 300 L}", "litres",
         "water has no setting \"litres\"; here that is \"volume\""},
        {"host: localhost", "broker: localhost", "broker",
         "mqtt has no setting \"broker\"; here that is \"host\""},
        {"site:", "sit:", "sit:", "the file has no setting \"sit\"; do you mean \"site\"?"},
        {"buses:", "busses:", "busses:",
         "the file has no setting \"busses\"; do you mean \"buses\"?"},
        {"meters:", "metres:", "metres:",
         "the file has no setting \"metres\"; do you mean \"meters\"?"},
        {"loads:", "laods:", "laods:", "the file has no setting \"laods\"; do you mean \"loads\"?"},
        {"mqtt:\n", "gateway: {serv: [{meter: grid}]}\nmqtt:\n",
         "serv:", "gateway has no setting \"serv\"; do you mean \"serve\"?"},
        {"buses:", "  controlled: {hours: \"22:00-06:00\", imprt: [{price: 0.18 /kWh}]}\nbuses:",
         "imprt", "controlled has no setting \"imprt\"; do you mean \"import\"?"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_names_are_of_small_letters_digits_and_hyphens)
{
    static const struct mistake rows[] = {
        {"  pump:", "  Pump:", "Pump",
         "\"Pump\" is not a name: use up to 31 of a-z, 0-9 and hyphens"},
        {"  pump:", "  pool pump:", "pool pump",
         "\"pool pump\" is not a name: use up to 31 of a-z, 0-9 and hyphens"},
        {"  pump:", "  pool/pump:", "pool/pump",
         "\"pool/pump\" is not a name: use up to 31 of a-z, 0-9 and hyphens"},
        {"  pump:", "  -pump:", "-pump",
         "\"-pump\" is not a name: use up to 31 of a-z, 0-9 and hyphens"},
        {"  pump:", "  \"\":", "\"\"", "\"\" is not a name: use up to 31 of a-z, 0-9 and hyphens"},
        {"  pump:", "  a2345678901234567890123456789012:", "a23",
         "\"a2345678901234567890123456789012\" is not a name: use up to 31 of a-z, 0-9 and "
         "hyphens"},
        {"  pump:", "  all:", "all", "a load may not be called all: that word means all of them"},
        {"  pump:", "  gateway:", "gateway",
         "a load may not be called gateway: on the broker that is the gateway"},
        {"  pump:", "  bus-x:", "bus-x",
         "a load may not be called bus-x: on the broker that is a bus"},
        {"  pump:", "  site:", "site:\n    power",
         "a load may not be called site: that word means all of them"},
    };
    static const struct mistake accepted[] = {
        {"  pump:", "  a234567890123456789012345678901:", 0, 0},
        {"  pump:", "  no:", 0, 0},
        {"  pump:", "  1e3:", 0, 0}};
    EXPECT(rows);
    expect_accepted(accepted, COUNT_OF(accepted));
}
END_TEST

START_TEST(test_what_is_named_must_be_there)
{
    static const struct mistake rows[] = {
        {"role: grid, bus: board", "role: grid, bus: boared", "boared",
         "there is no bus \"boared\"; do you mean \"board\"?"},
        {"output: {bus: board, unit: 10, address: 1", "output: {bus: hall, unit: 10, address: 1",
         "hall", "there is no bus \"hall\""},
        {"group: shed", "group: shad", "shad",
         "group: there is no group \"shad\"; do you mean \"shed\"?"},
        {"map: sunspec", "map: sun/spec", "sun/spec",
         "map: \"sun/spec\" is not a map; write sunspec, or the name of a file in " MAPS_DIR
         " without .yaml"},
        {"map: sunspec", "map: eastron-sdm631", "eastron",
         "map: there is no eastron-sdm631.yaml in " MAPS_DIR "; do you mean \"eastron-sdm630\"?"},
        {"map: sunspec", "map: ../../conf/meters/abb-b23", "../",
         "map: \"../../conf/meters/abb-b23\" is not a map; write sunspec, or the name of a file "
         "in " MAPS_DIR " without .yaml"},
        {"timezone: Australia/Sydney", "timezone: Australia/Sidney", "Australia",
         "timezone: \"Australia/Sidney\" is neither a zone of this system, such as "
         "Australia/Sydney, nor a POSIX rule; do you mean \"Australia/Sydney\"?"},
        {"timezone: Australia/Sydney", "timezone: ../../../etc/passwd", "../",
         "timezone: \"../../../etc/passwd\" is neither a zone of this system, such as "
         "Australia/Sydney, nor a POSIX rule"},
        {"map: sunspec}",
         "map: sunspec}\n  meter: {role: load, load: pupm, bus: board, unit: 5, map: sunspec}",
         "pupm", "load: there is no load \"pupm\"; do you mean \"pump\"?"},
        {"map: sunspec}", "map: sunspec}\n  meter: {role: load, bus: board, unit: 5, map: sunspec}",
         "meter:", "meter meter needs load: the load that it measures"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_hours_days_and_phases_are_read_by_their_own_rules)
{
    static const struct mistake rows[] = {
        {"power: 1.1 kW", "power: 1.1 kW\n    hours: 9-17", "9-17",
         "hours: \"9-17\" is not hours: write such as 09:00-15:00 or mon-fri 22:00-06:00"},
        {"power: 1.1 kW", "power: 1.1 kW\n    hours: \"09:00-09:00\"", "\"09",
         "hours: \"09:00-09:00\" ends when it begins: for the whole day write 00:00-24:00"},
        {"power: 1.1 kW", "power: 1.1 kW\n    hours: []", "[]", "hours: lists no hours"},
        {"power: 1.1 kW", "power: 1.1 kW\n    hours: [\"mom 09:00-10:00\"]", "\"mom",
         "hours: \"mom\" is not a list of weekdays: write such as daily, mon-fri or sat,sun"},
        {"by: \"17:00\"", "by: \"17:00\", days: weekdays", "weekdays",
         "days: \"weekdays\" is not a list of weekdays: write such as daily, mon-fri or sat,sun"},
        {"by: \"17:00\"", "by: \"17:00\", days: []", "[]", "days: lists no day"},
        {"power: 1.1 kW", "power: 1.1 kW\n    phases: A", "A\n    group",
         "phases: a phase is L1, L2 or L3, or several as [L1, L2, L3]"},
        {"power: 1.1 kW", "power: 1.1 kW\n    phases: []", "[]", "phases: lists no phase"},
        {"power: 1.1 kW",
         "power: 1.1 kW\n    hours: [01:00-02:00, 03:00-04:00, 05:00-06:00, 07:00-08:00, "
         "09:00-10:00, "
         "11:00-12:00, 13:00-14:00, 15:00-16:00, 17:00-18:00]",
         "17:00-18", "hours: has more than 8 spans"},
        {"power: 1.1 kW", "power: 1.1 kW\n    phases: [L1, L1]", "L1]",
         "phases: L1 is there twice"},
        {"power: 1.1 kW", "power: 1.1 kW\n    phases: L2", "L2", "phases: the site has only 1"},
        {"price: 0.20 /kWh", "price: 0.20 /kWh, months: juli", "juli",
         "months: \"juli\" is not a season, such as nov-mar"},
        {"price: 0.20 /kWh", "price: 0.20 /kWh, months: nov-", "nov-",
         "months: \"nov-\" is not a season, such as nov-mar"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_a_list_or_a_group_where_one_value_is_wanted_is_said)
{
    static const struct mistake rows[] = {
        {"  phases: 1", "  phases: [1]", "[1]", "a single value is expected here, not a list"},
        {"power: 3.6 kW", "power: {most: 3.6 kW}", "{most",
         "a power is expected here, not a group of settings"},
        {"    floors:\n      - {amount: 3 h, by: \"17:00\"}\n",
         "    floors: {amount: 3 h, by: \"17:00\"}\n", "{amount",
         "a list of floors is expected here, not a group of settings"},
        {"output: {bus: board, unit: 10, address: 1}", "output: coil", "coil",
         "a group of settings is expected here, not a single value"},
        {"mqtt:\n  host: localhost\n", "mqtt: [localhost]\n", "[localhost]",
         "a group of settings is expected here, not a list"},
        {"  import:\n    - {price: 0.30 /kWh}\n    - {price: 0.20 /kWh, hours: \"22:00-07:00\"}\n",
         "  import: 0.30 /kWh\n", "0.30", "a list of bands is expected here, not a single value"},
    };
    EXPECT(rows);
}
END_TEST

START_TEST(test_texts_must_fit_and_hold_no_control_characters)
{
    static const struct mistake rows[] = {
        {"timezone: Australia/Sydney",
         "timezone: Australia/Sydney\n  name: "
         "0123456789012345678901234567890123456789012345678901234567890123",
         "0123", "name: longer than 63 bytes"},
        {"timezone: Australia/Sydney", "timezone: Australia/Sydney\n  name: \"a\\tb\"", "\"a",
         "name: has a control character in it"},
        {"timezone: Australia/Sydney", "timezone: Australia/Sydney\n  name: \"a\\x9bb\"", "\"a",
         "name: has a control character in it"},
        {"timezone: Australia/Sydney", "timezone: Australia/Sydney\n  name:", "\n  phases",
         "name: is empty"},
    };
    static const struct mistake accepted[] = {
        {"timezone: Australia/Sydney",
         "timezone: Australia/Sydney\n  name: "
         "012345678901234567890123456789012345678901234567890123456789012",
         0, 0},
        {"timezone: Australia/Sydney", "timezone: AEST-10AEDT,M10.1.0,M4.1.0/3", 0, 0},
        {"timezone: Australia/Sydney", "timezone: UTC", 0, 0},
    };
    EXPECT(rows);
    expect_accepted(accepted, COUNT_OF(accepted));
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_the_small_house_is_accepted,
        test_line_and_column_are_those_an_editor_shows,
        test_an_unknown_key_names_the_nearest_of_its_section,
        test_a_key_that_stands_twice_names_the_first,
        test_a_bare_number_has_no_unit,
        test_words_that_may_stand_for_a_quantity_are_named,
        test_a_unit_of_another_kind_is_said_to_be_one,
        test_what_is_out_of_range_says_from_where_to_where,
        test_a_word_that_is_no_choice_lists_those_that_are,
        test_what_is_missing_is_said_at_the_section_that_needs_it,
        test_a_required_key_that_is_misspelt_is_one_mistake,
        test_names_are_of_small_letters_digits_and_hyphens,
        test_what_is_named_must_be_there,
        test_hours_days_and_phases_are_read_by_their_own_rules,
        test_a_list_or_a_group_where_one_value_is_wanted_is_said,
        test_texts_must_fit_and_hold_no_control_characters,
    };
    return suite_run("mistakes", tests, COUNT_OF(tests));
}
