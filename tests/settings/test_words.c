/* test_words.c - what the settings say to people: the explanations, and the description
 * with its notices. */
#include <string.h>

#include "../core/suite.h"
#include "rig.h"
#include "settings/sections.h"

/* ---- explanations -------------------------------------------------------------------------------
 */

static void write_explanation(FILE *to, const void *context)
{
    settings_explain(context, &quote_section, to);
}

static bool is_explained(const char *key)
{
    FILE *nowhere = fopen("/dev/null", "we");
    bool found = settings_explain(key, &quote_section, nowhere);
    fclose(nowhere);
    return found;
}

START_TEST(test_an_explanation_has_unit_range_and_default)
{
    char *text = written_by(write_explanation, "loads.water-heater.minimum_on");
    ck_assert_str_eq(text, "loads.NAME.minimum_on\n"
                           "  Shortest run, to spare the contactor; of a motor 20 min.\n"
                           "  written  a duration, such as 2 h 30 min\n"
                           "  range    0 s to 1 d\n"
                           "  default  10 min\n");
    free(text);
    text = written_by(write_explanation, "supply_limit");
    ck_assert_ptr_nonnull(strstr(text, "  default  none: required\n"));
    ck_assert_ptr_nonnull(strstr(text, "  range    5 A to 2000 A\n"));
    free(text);
    text = written_by(write_explanation, "floors.grid");
    ck_assert_ptr_nonnull(strstr(text, "cheapest_hours"));
    ck_assert_ptr_nonnull(strstr(text, "in the cheapest hours that still meet the deadline"));
    free(text);
    text = written_by(write_explanation, "output.line");
    ck_assert_ptr_nonnull(strstr(text, "  only     with kind: line\n"));
    free(text);
}
END_TEST

START_TEST(test_a_key_that_is_none_names_the_nearest)
{
    static const struct {
        const char *key, *says;
    } rows[] = {
        {"minimum_onn", "there is no setting \"minimum_onn\"; do you mean \"minimum_on\"?\n"},
        {"loads.water-heater.minimun_off",
         "there is no setting \"loads.water-heater.minimun_off\"; do you mean \"minimum_off\"?\n"},
        {"qwertyuiop", "there is no setting \"qwertyuiop\"\n"},
        {"site.minimum_on",
         "there is no setting \"site.minimum_on\"; do you mean \"minimum_on\"?\n"},
        {".", "there is no setting \".\"\n"},
        {"..", "there is no setting \"..\"\n"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = written_by(write_explanation, rows[k].key);
        ck_assert_str_eq(text, rows[k].says);
        ck_assert(!is_explained(rows[k].key));
        free(text);
    }
}
END_TEST

START_TEST(test_a_section_lists_its_keys_and_nothing_lists_all)
{
    char *loads = written_by(write_explanation, "loads"), *all = written_by(write_explanation, "");
    ck_assert_ptr_nonnull(strstr(loads, "loads.NAME.minimum_on\n"));
    ck_assert_ptr_null(strstr(loads, "site."));
    ck_assert_ptr_nonnull(strstr(all, "site.voltage\n"));
    ck_assert_ptr_nonnull(strstr(all, "storage.history\n"));
    int lines = 0, rows = 0;
    for (const char *at = all; (at = strchr(at, '\n')); at++)
        lines++;
    const struct section *section;
    for (int s = 0; (section = section_at(&quote_section, s)); s++)
        rows += (int)section->rows->count;
    ck_assert_int_ge(lines, rows);
    ck_assert(is_explained(NULL));
    free(loads);
    free(all);
}
END_TEST

START_TEST(test_lists_and_their_entries_are_explained_by_their_words)
{
    static const struct {
        const char *key, *says;
    } rows[] = {
        {"floor", "loads.NAME.floors[]\n  What is guaranteed"},
        {"floors", "loads.NAME.floors[]\n  What is guaranteed"},
        {"floors[]", "loads.NAME.floors[].by\n"},
        {"loads.water-heater.floors", "loads.NAME.floors[].by\n"},
        {"floors.by", "loads.NAME.floors[].by\n  Its deadline"},
        {"floor.by", "loads.NAME.floors[].by\n  Its deadline"},
        {"loads.water-heater.floors[0].by", "loads.NAME.floors[].by\n  Its deadline"},
        {"output", "loads.NAME.output\n  What switches the load."},
        {"load", "loads.NAME\n  What is switched."},
        {"bus", "buses.NAME\n  Serial lines"},
        {"import.price", "tariff.import[].price\n"},
        {"import", "tariff.import[].price\n"},
        {"serve", "gateway.serve[].view\n"},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = written_by(write_explanation, rows[k].key);
        ck_assert_msg(strstr(text, rows[k].says) != NULL, "%s: \"%s\" is not in:\n%s", rows[k].key,
                      rows[k].says, text);
        free(text);
    }
}
END_TEST

/* ---- the description ----------------------------------------------------------------------------
 */

/* Wrapped lines as one, so that a sentence can be looked for whole. */
static char *unwrapped(char *text)
{
    char *to = text;
    for (const char *from = text; *from; from++) {
        if (*from == '\n' && strncmp(from + 1, "    ", 4) == 0) {
            *to++ = ' ';
            from += 4;
        } else
            *to++ = *from;
    }
    *to = '\0';
    return text;
}

static void expect_sentences(const char *text, const char *const sentences[], size_t count)
{
    struct settings *settings = load_good(text);
    char *description = unwrapped(described(settings));
    for (size_t k = 0; k < count; k++)
        ck_assert_msg(strstr(description, sentences[k]) != NULL, "\"%s\" is not in:\n%s",
                      sentences[k], description);
    free(description);
    settings_free(settings);
}

START_TEST(test_the_description_says_what_is_guaranteed_and_what_limits)
{
    static const char *const sentences[] = {
        "One phase of 230 V, 63 A a phase at the main switch",
        "Meter grid reads the grid every 1 s: unit 2 on bus board, map sunspec.",
        "heater (heater), priority 1",
        "Guaranteed: 3 h of drawing power by 17:00 daily, whatever the weather; bought at the "
        "latest safe start, with 30 min in reserve.",
        "Runs at least 10 min, rests at least 5 min, starts at most 6 times an hour.",
        "Switched by coil 0 of unit 10 on bus board, read back; when nothing can decide it goes "
        "off.",
        "Follows a set-point from 1.38 kW to 3.68 kW in steps of 230 W on L1; with less it pauses.",
        "Shares 32 A a phase with group shed.",
        "Nothing is guaranteed: it runs on spare power, or manually.",
    };
    expect_sentences(small_house, sentences, COUNT_OF(sentences));
}
END_TEST

START_TEST(test_limits_that_are_set_are_described)
{
    static const char *const sentences[] = {
        "only in mon-fri 09:00-15:00 and sat 10:00-16:00, at most 4 h a day; manual runs keep to "
        "hours and maximum.",
        "Starts when 550 W has been spare for 3 min; the rest is bought.",
    };
    char *text = edited(small_house, "power: 1.1 kW",
                        "power: 1.1 kW\n    hours: [mon-fri 09:00-15:00, sat 10:00-16:00]\n"
                        "    daily_maximum: 4 h\n    strict: yes\n    start_fraction: 50 %");
    expect_sentences(text, sentences, COUNT_OF(sentences));
    free(text);
}
END_TEST

START_TEST(test_each_kind_of_setting_has_its_sentence)
{
    static const struct {
        const char *find, *write, *says;
    } rows[] = {
        {"power: 1.1 kW\n    group: shed\n    output: {bus: board, unit: 10, address: 1}",
         "kind: staged\n    stages: [1 kW, 2 kW]\n    output: {bus: board, address: [1, 2]}",
         "3 kW on L1, by 2 contactors that close one after another."},
        {"power: 1.1 kW", "power: 1.1 kW\n    kind: request",
         "1.1 kW on L1; a start contact that it obeys in its own time."},
        {"power: 1.1 kW", "power: 1.1 kW\n    uses_spare: no",
         "Never runs on spare power, only for its floors and manually."},
        {"power: 1.1 kW", "power: 1.1 kW\n    start_fraction: derived",
         "Starts when the share of 1.1 kW that pays by the tariff has been spare for 3 min."},
        {"limit: 32 A", "one_at_a_time: yes",
         "Never runs at the same time as another load of group shed."},
        {"thermostat: yes", "thermostat: yes\n    normal_on_holiday: yes",
         "Runs as usual while the household is away."},
        {"thermostat: yes", "thermostat: yes\n    heat_up: 5 h",
         "heated until satisfied before they return, starting 5 h ahead."},
        {"output: {bus: board, unit: 10, address: 1}",
         "output: {kind: line, line: 17, active_low: yes}", "line 17 of gpiochip0, low is on"},
        {"address: 0}", "address: 0, normally_closed: yes, fail_state: on}",
         "on the normally closed contact; when nothing can decide it goes on."},
        {"{amount: 3 h,", "{measure: satisfied, amount: 4 h, every_days: 7,",
         "Guaranteed: heated until the thermostat opens, planned as 4 h, by 17:00 at least once "
         "in "
         "7 days"},
        {"count_current: 100 mA}",
         "count_current: 100 mA}\n    floors: [{measure: energy, amount: 8 kWh, by: \"06:30\", "
         "days: "
         "mon-fri, grid: cheapest_hours}]",
         "Guaranteed: 8 kWh by 06:30 mon-fri, whatever the weather; bought in the cheapest hours"},
        {"map: sunspec}", "map: sunspec, inverted: yes}", "map sunspec, inverted."},
        {"phases: 1", "phases: 1\n  quiet: \"22:00-06:00\"",
         "In the quiet hours 22:00-06:00 nothing starts that can wait."},
    };
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = edited(small_house, rows[k].find, rows[k].write);
        expect_sentences(text, &rows[k].says, 1);
        free(text);
    }
}
END_TEST

/* The same house on three phases, with a battery. */
START_TEST(test_phases_and_battery_are_described)
{
    static const char *const per_phase[] = {
        "Three phases of 230 V",
        ("Spare power is what is exported and 20 % of what the battery charges with, minus its "
         "discharge and 100 W."),
        "The retail meter counts each phase by itself: a load may use what its own phases export.",
        "1.1 kW on L1 and L3, by one contactor.",
        "to 11.04 kW in steps of 690 W on all three phases",
    };
    static const char *const net[] = {
        "The retail meter nets the phases: what one exports another may use."};
    static const struct {
        const char *find, *write;
    } changes[] = {
        {"phases: 1", "phases: 3\n  billing: per_phase\n  battery: yes\n  battery_reserved: 80 %"},
        {"map: sunspec}",
         "map: sunspec}\n  store: {role: battery, bus: lan, unit: 3, map: sunspec}"},
        {"power: 3.6 kW", "power: 3.6 kW\n    phases: L2"},
        {"power: 1.1 kW", "power: 1.1 kW\n    phases: [L1, L3]"},
        {"power: 16 A", "power: 16 A\n    phases: [L1, L2, L3]"},
    };
    char *text = strdup(small_house);
    for (size_t k = 0; k < COUNT_OF(changes); k++) {
        char *changed = edited(text, changes[k].find, changes[k].write);
        free(text);
        text = changed;
    }
    expect_sentences(text, per_phase, COUNT_OF(per_phase));
    char *netted = edited(text, "billing: per_phase", "billing: net");
    expect_sentences(netted, net, COUNT_OF(net));
    free(netted);
    free(text);
}
END_TEST

START_TEST(test_notices_say_what_cannot_be_promised)
{
    static const char *const sentences[] = {
        "Off, inhibited or in its fail state is not isolated: isolate all supplies and prove dead.",
        "its fail state cannot be promised then.",
        ("car: obeys a set-point. Its supply must never be switched by a contactor of this "
         "controller."),
        "heater: has a thermostat, but no floor that heats it until satisfied.",
    };
    expect_sentences(small_house, sentences, COUNT_OF(sentences));
}
END_TEST

START_TEST(test_each_notice_comes_with_what_it_is_about)
{
    static const struct {
        const char *find, *write, *says;
    } rows[] = {
        {"address: 1}", "address: 1, read_back: no}", "pump: its board is not read back"},
        {"output: {bus: board, unit: 10, address: 1}", "output: {kind: topic, topic: a/set}",
         "pump: without state_topic nothing shows whether an order was followed."},
        {"host: localhost", "host: broker.home.arpa", "The broker is used without TLS"},
        {"map: sunspec", "map: abb-b23",
         "Meter grid: the datasheet says 19200 baud 8E1, bus board has 9600 baud 8N1."},
        {"phases: 1", "phases: 1\n  export_limit: 5 kW", "sluice is not part of export limiting"},
        {"thermostat: yes", "thermostat: yes\n    water: {volume: 315 L, set: 59.5 °C}",
         "heater: stores water at 59.5 °C. Under 60 °C Legionella can grow; common guidance (HSE "
         "HSG274 Part 2) stores it at 60 °C or more."},
        {"thermostat: yes", "thermostat: yes\n    water: {volume: 315 L, set: 65 °C}",
         "heater: stores water at 65 °C. Over 50 °C at the tap it scalds: it needs the tempering "
         "or mixing valve"},
        {"thermostat: yes", "thermostat: yes\n    water: {volume: 315 L, probe: yes}",
         "heater: has probe: yes, but no sensor, and no meter of role: tank, reads its "
         "temperature"},
    };
    struct settings *settings = load_good(small_house);
    char *plain = unwrapped(described(settings));
    settings_free(settings);
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        char *text = edited(small_house, rows[k].find, rows[k].write);
        ck_assert_ptr_null(strstr(plain, rows[k].says));
        expect_sentences(text, &rows[k].says, 1);
        free(text);
    }
    free(plain);
}
END_TEST

static void expect_no_sentence(const char *text, const char *says)
{
    struct settings *settings = load_good(text);
    char *description = unwrapped(described(settings));
    ck_assert_msg(strstr(description, says) == NULL, "\"%s\" is in:\n%s", says, description);
    free(description);
    settings_free(settings);
}

START_TEST(test_a_notice_about_water_ends_where_its_reason_does)
{
    static const struct {
        const char *water, *says;
    } rows[] = {
        {"{volume: 315 L, set: 60 °C}", "Legionella can grow"},
        {"{volume: 315 L, set: 50 °C}", "scalds"},
        {"{volume: 315 L, probe: no}", "has probe: yes"},
    };
    char line[128];
    for (size_t k = 0; k < COUNT_OF(rows); k++) {
        snprintf(line, sizeof(line), "thermostat: yes\n    water: %s", rows[k].water);
        char *text = edited(small_house, "thermostat: yes", line);
        expect_no_sentence(text, rows[k].says);
        free(text);
    }
    char *probed = edited(small_house, "thermostat: yes",
                          "thermostat: yes\n    water: {volume: 315 L, probe: yes}");
    char *read = edited(probed, "map: sunspec}",
                        "map: sunspec}\n  tank: {role: tank, bus: board, unit: 9, map: sunspec}");
    expect_no_sentence(read, "has probe: yes");
    free(read);
    free(probed);
}
END_TEST

/* A degree sign is two bytes and one column: bytes that go on with a character do not count. */
static int columns(const char *line)
{
    int count = 0;
    for (; *line && *line != '\n'; line++)
        count += ((unsigned char)*line & 0xc0) != 0x80;
    return count;
}

START_TEST(test_no_line_of_the_description_is_wider_than_a_screen)
{
    struct settings_troubles troubles = {0};
    struct settings *settings =
        settings_load(CONF_DIR "/sluice.yaml", MAPS_DIR, &with_quote, &troubles);
    char *text = described(settings);
    for (const char *line = text; *line; line += strcspn(line, "\n") + 1)
        ck_assert_int_le(columns(line), 80);
    free(text);
    settings_free(settings);
}
END_TEST

int main(void)
{
    const TTest *const tests[] = {
        test_an_explanation_has_unit_range_and_default,
        test_a_key_that_is_none_names_the_nearest,
        test_a_section_lists_its_keys_and_nothing_lists_all,
        test_lists_and_their_entries_are_explained_by_their_words,
        test_the_description_says_what_is_guaranteed_and_what_limits,
        test_limits_that_are_set_are_described,
        test_each_kind_of_setting_has_its_sentence,
        test_phases_and_battery_are_described,
        test_notices_say_what_cannot_be_promised,
        test_each_notice_comes_with_what_it_is_about,
        test_a_notice_about_water_ends_where_its_reason_does,
        test_no_line_of_the_description_is_wider_than_a_screen,
    };
    return suite_run("words", tests, COUNT_OF(tests));
}
