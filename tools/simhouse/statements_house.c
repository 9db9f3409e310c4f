/* The house: where it is, when it is, its supply, sun, people and taps. */
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include "statements.h"

#define ROWS(array) (array), (int)(sizeof(array) / sizeof((array)[0]))

/* The rule is the last line of the system's zone file (RFC 8536, section 3.3). */
static bool zone_file_rule(const char *name, char *rule, size_t size)
{
    char path[256];
    snprintf(path, sizeof(path), "/usr/share/zoneinfo/%s", name);
    FILE *file = strstr(name, "..") ? NULL : fopen(path, "re");
    if (!file)
        return false;
    char tail[128];
    fseek(file, -(long)(sizeof(tail) - 1), SEEK_END);
    size_t got = fread(tail, 1, sizeof(tail) - 1, file);
    fclose(file);
    size_t end = got > 0 && tail[got - 1] == '\n' ? got - 1 : 0;
    size_t from = end;
    while (from > 0 && tail[from - 1] != '\n')
        from--;
    if (end == 0 || from == 0 || end - from >= size)
        return false;
    memcpy(rule, tail + from, end - from);
    rule[end - from] = '\0';
    return true;
}

static bool read_zone(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    if (scenario->has_start)
        return trouble_set(cursor->trouble, "", "\"zone\" must come before \"start\"");
    char name[64], rule[64];
    const char *expected = "a zone, such as Australia/Sydney or AEST-10AEDT,M10.1.0,M4.1.0/3";
    if (!cursor_word(cursor, name, sizeof(name), expected))
        return false;
    return zone_parse(zone_file_rule(name, rule, sizeof(rule)) ? rule : name, &scenario->house.zone,
                      cursor->trouble);
}

static bool read_start(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    char word[16];
    int year, month, day;
    if (!cursor_word(cursor, word, sizeof(word), "a date, such as 2026-01-14"))
        return false;
    if (sscanf(word, "%4d-%2d-%2d", &year, &month, &day) != 3 || month < 1 || month > 12 ||
        day < 1 || day > 31)
        return trouble_set(cursor->trouble, "", "\"%s\" is no date, such as 2026-01-14", word);
    if (!cursor_time(cursor, &scenario->start_s))
        return false;
    scenario->start_day = days_of_date((struct date){(int16_t)year, (uint8_t)month, (uint8_t)day});
    scenario->house.start =
        wall_of_local(&scenario->house.zone, scenario->start_day, scenario->start_s);
    scenario->has_start = true;
    return true;
}

static bool read_duration(struct cursor *cursor, int64_t *ms)
{
    double value;
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1, &value))
        return false;
    *ms = (int64_t)value;
    return *ms > 0 || trouble_set(cursor->trouble, "", "it must be longer than nothing");
}

static bool read_length(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    return read_duration(cursor, &scenario->length_ms);
}

static bool read_step(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    return read_duration(cursor, &scenario->step_ms);
}

/* supply 3 phases voltage 230 V source 0.2 ohm */
static bool read_supply(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    double phases;
    if (!cursor_number(cursor, &phases, "1 phase or 3 phases"))
        return false;
    if (!(cursor_match(cursor, "phase") || cursor_match(cursor, "phases")) ||
        (phases != 1 && phases != 3))
        return trouble_set(cursor->trouble, "", "a supply has 1 phase or 3 phases");
    scenario->house.grid.phase_count = (int)phases;
    static const struct option_row options[] = {
        {"voltage", QUANTITY_VOLTAGE_MV, 1e-3, offsetof(struct grid_settings, nominal_v)},
    };
    while (!cursor_ended(cursor)) {
        switch (cursor_option(cursor, ROWS(options), &scenario->house.grid)) {
        case OPTION_TAKEN:
            continue;
        case OPTION_WRONG:
            return false;
        case OPTION_UNKNOWN:
            break;
        }
        if (!cursor_match(cursor, "source"))
            return cursor_fail(cursor, "voltage or source");
        if (!cursor_number(cursor, &scenario->house.grid.source_ohm, "ohms, such as 0.2 ohm"))
            return false;
        if (!cursor_match(cursor, "ohm"))
            return cursor_fail(cursor, "ohm");
    }
    return true;
}

/* meter model 213 import 1234 kWh export 56 kWh resolution 10 W noise 5 W inverted */
static bool read_meter(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    static const struct option_row options[] = {
        {"import", QUANTITY_ENERGY_MWH, 1e-3,
         offsetof(struct scenario, house.meter.start_import_wh)},
        {"export", QUANTITY_ENERGY_MWH, 1e-3,
         offsetof(struct scenario, house.meter.start_export_wh)},
        {"resolution", QUANTITY_POWER_W, 1, offsetof(struct scenario, house.meter.resolution_w)},
        {"noise", QUANTITY_POWER_W, 1, offsetof(struct scenario, house.meter.noise_w)},
        {"renewed-every", QUANTITY_DURATION_MS, 1e-3,
         offsetof(struct scenario, house.meter.every_s)},
    };
    while (!cursor_ended(cursor)) {
        enum option_outcome outcome = cursor_option(cursor, ROWS(options), scenario);
        if (outcome == OPTION_WRONG)
            return false;
        if (outcome == OPTION_TAKEN)
            continue;
        if (cursor_match(cursor, "inverted")) {
            scenario->house.meter.inverted = true;
            continue;
        }
        int64_t model;
        if (!cursor_match(cursor, "model"))
            return cursor_fail(
                cursor, "model, import, export, resolution, noise, renewed-every or inverted");
        if (!cursor_count(cursor, 999, &model, "203 or 213"))
            return false;
        if (model != 203 && model != 213)
            return trouble_set(cursor->trouble, "", "the meter speaks model 203 or 213");
        scenario->meter_model = (int)model;
    }
    return true;
}

static const char *const sky_words[] = {
    [SKY_CLEAR] = "clear",       [SKY_CLOUDS] = "clouds",
    [SKY_OVERCAST] = "overcast", [SKY_WET_MORNING] = "wet-morning",
    [SKY_DARK] = "dark",
};

static bool read_pv_option(struct scenario *scenario, struct cursor *cursor)
{
    static const struct option_row options[] = {
        {"limit", QUANTITY_POWER_W, 1, offsetof(struct scenario, house.pv_limit_w)},
        {"export-limit", QUANTITY_POWER_W, 1, offsetof(struct scenario, house.export_limit_w)},
        {"second", QUANTITY_SHARE_PERMILLE, 1e-3, offsetof(struct scenario, pv_second_share)},
        {"follows", QUANTITY_DURATION_MS, 1e-3, offsetof(struct scenario, house.export_follows_s)},
    };
    enum option_outcome outcome = cursor_option(cursor, ROWS(options), scenario);
    if (outcome != OPTION_UNKNOWN)
        return outcome == OPTION_TAKEN;
    if (cursor_match(cursor, "phase"))
        return cursor_phases(cursor, &scenario->house.pv_phases);
    if (cursor_match(cursor, "seed")) {
        int64_t seed;
        if (!cursor_count(cursor, INT32_MAX, &seed, "a whole number"))
            return false;
        scenario->house.sky_seed = (uint64_t)seed;
        return true;
    }
    if (cursor_match(cursor, "at"))
        return cursor_number(cursor, &scenario->house.roof.latitude_deg, "degrees of latitude") &&
               cursor_number(cursor, &scenario->house.roof.longitude_deg, "degrees of longitude");
    if (cursor_match(cursor, "tilt"))
        return cursor_number(cursor, &scenario->house.roof.tilt_deg, "degrees");
    if (cursor_match(cursor, "facing"))
        return cursor_number(cursor, &scenario->house.roof.azimuth_deg, "degrees from north");
    return cursor_fail(cursor,
                       "limit, export-limit, second, follows, phase, seed, at, tilt or facing");
}

/* pv 6.6 kWp wet-morning seed 7 limit 5 kW at -33.9 151.2 tilt 25 facing 0 */
static bool read_pv(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    for (int i = cursor->next; i < cursor->count; i++)
        if (strcmp(cursor->word[i], "kWp") == 0)
            cursor->text[cursor->word[i] + 2 - cursor->text] = '\0';
    int sky;
    if (!cursor_quantity(cursor, QUANTITY_POWER_W, 1, &scenario->house.pv_peak_w) ||
        !cursor_choice(cursor, ROWS(sky_words), &sky,
                       "clear, clouds, overcast, wet-morning or dark"))
        return false;
    scenario->house.sky = (enum sky_kind)sky;
    while (!cursor_ended(cursor))
        if (!read_pv_option(scenario, cursor))
            return false;
    return true;
}

/* battery 5 kW capacity 10 kWh charged 4 kWh phase L1,L2,L3 */
static bool read_battery(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    static const struct option_row options[] = {
        {"capacity", QUANTITY_ENERGY_MWH, 1e-6,
         offsetof(struct scenario, house.battery.capacity_kwh)},
        {"charged", QUANTITY_ENERGY_MWH, 1e-6, offsetof(struct scenario, house.battery_start_kwh)},
    };
    scenario->house.battery = (struct battery_settings){.capacity_kwh = 10, .efficiency = 0.9};
    if (!cursor_quantity(cursor, QUANTITY_POWER_W, 1, &scenario->house.battery.most_w))
        return false;
    while (!cursor_ended(cursor)) {
        enum option_outcome outcome = cursor_option(cursor, ROWS(options), scenario);
        if (outcome == OPTION_WRONG)
            return false;
        if (outcome == OPTION_TAKEN)
            continue;
        if (!cursor_match(cursor, "phase"))
            return cursor_fail(cursor, "capacity, charged or phase");
        if (!cursor_phases(cursor, &scenario->house.battery_phases))
            return false;
    }
    return scenario->house.battery_start_kwh <= scenario->house.battery.capacity_kwh ||
           trouble_set(cursor->trouble, "", "it is charged beyond its capacity");
}

static bool read_cycle(struct cursor *cursor, double *on_s, double *off_s)
{
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1e-3, on_s))
        return false;
    if (!cursor_match(cursor, "on"))
        return cursor_fail(cursor, "on");
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1e-3, off_s))
        return false;
    return cursor_match(cursor, "off") || cursor_fail(cursor, "off");
}

/* oven 17:30-18:15 2.4 kW phase L1 cycle 8 min on 4 min off */
static bool read_appliance(struct scenario *scenario, struct cursor *cursor)
{
    struct household_settings *household = &scenario->house.household;
    if (household->event_count == HOUSEHOLD_EVENTS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d appliances", HOUSEHOLD_EVENTS_MAX);
    struct household_event event = {.phases = 1};
    double on_s = 0, off_s = 0;
    char name[NAME_MAX_SIM];
    if (!cursor_word(cursor, name, sizeof(name),
                     "base, fridge, kettle, random or an appliance's name") ||
        !cursor_span(cursor, "-", &event.from_s, &event.to_s) ||
        !cursor_quantity(cursor, QUANTITY_POWER_W, 1, &event.power_w))
        return false;
    while (!cursor_ended(cursor)) {
        bool good = cursor_match(cursor, "phase")   ? cursor_phases(cursor, &event.phases)
                    : cursor_match(cursor, "cycle") ? read_cycle(cursor, &on_s, &off_s)
                                                    : cursor_fail(cursor, "phase or cycle");
        if (!good)
            return false;
    }
    event.on_s = (int32_t)on_s;
    event.off_s = (int32_t)off_s;
    household->event[household->event_count++] = event;
    return true;
}

static bool read_words(struct cursor *cursor, const char *first, const char *second,
                       const char *expected)
{
    return (cursor_match(cursor, first) && cursor_match(cursor, second)) ||
           cursor_fail(cursor, expected);
}

static bool read_chance_option(struct cursor *cursor, struct household_chance *chance)
{
    if (cursor_match(cursor, "phase"))
        return cursor_phases(cursor, &chance->phases);
    if (cursor_match(cursor, "between"))
        return cursor_span(cursor, "-", &chance->from_s, &chance->to_s);
    if (cursor_match(cursor, "spread"))
        return cursor_quantity(cursor, QUANTITY_SHARE_PERMILLE, 1e-3, &chance->power_spread);
    if (cursor_match(cursor, "cycle"))
        return read_cycle(cursor, &chance->on_s, &chance->off_s);
    return cursor_fail(cursor, "between, spread, phase or cycle");
}

/* random shower-heater 3.6 kW 5 a day for 4 min to 12 min between 06:00-22:00 spread 5 % */
static bool read_chance(struct scenario *scenario, struct cursor *cursor)
{
    struct household_settings *household = &scenario->house.household;
    if (household->chance_count == HOUSEHOLD_CHANCES_MAX)
        return trouble_set(cursor->trouble, "", "more than %d random appliances",
                           HOUSEHOLD_CHANCES_MAX);
    struct household_chance chance = {.phases = 1, .from_s = 6 * 3600, .to_s = 22 * 3600};
    char name[NAME_MAX_SIM];
    if (!cursor_word(cursor, name, sizeof(name), "an appliance's name") ||
        !cursor_quantity(cursor, QUANTITY_POWER_W, 1, &chance.power_w) ||
        !cursor_number(cursor, &chance.a_day, "a number, such as 6 a day") ||
        !read_words(cursor, "a", "day", "a day"))
        return false;
    if (!cursor_match(cursor, "for"))
        return cursor_fail(cursor, "for");
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1e-3, &chance.least_s))
        return false;
    chance.most_s = chance.least_s;
    if (cursor_match(cursor, "to") &&
        !cursor_quantity(cursor, QUANTITY_DURATION_MS, 1e-3, &chance.most_s))
        return false;
    while (!cursor_ended(cursor))
        if (!read_chance_option(cursor, &chance))
            return false;
    household->chance[household->chance_count++] = chance;
    return true;
}

/* use base 300 W; fridge 120 W; kettle 2 kW 6 a day; oven ... */
static bool read_use(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    struct household_settings *household = &scenario->house.household;
    if (cursor_match(cursor, "base"))
        return cursor_quantity(cursor, QUANTITY_POWER_W, 1, &household->base_w);
    if (cursor_match(cursor, "fridge"))
        return cursor_quantity(cursor, QUANTITY_POWER_W, 1, &household->fridge_w);
    if (cursor_match(cursor, "kettle")) {
        if (!cursor_quantity(cursor, QUANTITY_POWER_W, 1, &household->kettle_w) ||
            !cursor_number(cursor, &household->kettles_a_day, "a number, such as 6 a day"))
            return false;
        return read_words(cursor, "a", "day", "a day");
    }
    if (cursor_match(cursor, "random"))
        return read_chance(scenario, cursor);
    return read_appliance(scenario, cursor);
}

static bool read_seed(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    int64_t seed;
    if (!cursor_count(cursor, INT32_MAX, &seed, "a whole number"))
        return false;
    scenario->seed = (uint64_t)seed;
    scenario->house.grid.seed = (uint64_t)seed + 1000;
    scenario->house.household.seed = (uint64_t)seed + 2000;
    scenario->house.meter.seed = (uint64_t)seed + 3000;
    scenario->house.draw_seed = (uint64_t)seed + 4000;
    return true;
}

static bool add_draw(struct scenario *scenario, struct cursor *cursor, struct tap_draw draw)
{
    if (scenario->house.draw_count == TAP_DRAWS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d draws", TAP_DRAWS_MAX);
    scenario->house.draw[scenario->house.draw_count++] = draw;
    return true;
}

/* draws random 180 L a day */
static bool read_random_draws(struct scenario *scenario, struct cursor *cursor)
{
    return cursor_quantity(cursor, QUANTITY_VOLUME_ML, 1e-3, &scenario->house.draw_litres_a_day) &&
           read_words(cursor, "a", "day", "a day");
}

/* draws profile-m | draws none | draws random 180 L a day */
static bool read_draws(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    scenario->house.draw_count = 0;
    scenario->house.draw_litres_a_day = 0;
    if (cursor_match(cursor, "none"))
        return true;
    if (cursor_match(cursor, "random"))
        return read_random_draws(scenario, cursor);
    if (!cursor_match(cursor, "profile-m"))
        return cursor_fail(cursor, "profile-m, random or none");
    for (int i = 0; i < tap_profile_m_count; i++)
        if (!add_draw(scenario, cursor, tap_profile_m[i]))
            return false;
    return true;
}

/* draw 06:30 9 L/min for 7 min at 40 C */
static bool read_draw(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    struct tap_draw draw = {0};
    if (!cursor_time(cursor, &draw.at_s) ||
        !cursor_number(cursor, &draw.flow_l_min, "a flow, such as 9 L/min"))
        return false;
    if (!cursor_match(cursor, "L/min"))
        return cursor_fail(cursor, "L/min");
    if (!cursor_match(cursor, "for"))
        return cursor_fail(cursor, "for");
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1e-3, &draw.seconds))
        return false;
    if (!cursor_match(cursor, "at"))
        return cursor_fail(cursor, "at");
    return cursor_quantity(cursor, QUANTITY_TEMPERATURE_MC, 1e-3, &draw.wanted_c) &&
           add_draw(scenario, cursor, draw);
}

static bool read_settings(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    return cursor_word(cursor, scenario->settings, sizeof(scenario->settings),
                       "a settings file, such as house.yaml");
}

const struct statement_row house_statements[] = {
    {"zone", read_zone},       {"start", read_start}, {"length", read_length},
    {"step", read_step},       {"seed", read_seed},   {"supply", read_supply},
    {"meter", read_meter},     {"pv", read_pv},       {"use", read_use},
    {"draws", read_draws},     {"draw", read_draw},   {"settings", read_settings},
    {"battery", read_battery}, {NULL, NULL},
};
