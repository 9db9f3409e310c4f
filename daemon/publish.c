/* publish.c - the site as properties on the broker.
 *
 * One table of rows: what a load has, what the site has. The properties, their
 * description and their values all come from it; a new one is a row and a function
 * that writes its value. Powers follow the meter each second, so they are rounded
 * to what a person reads, and a reason's text is renewed when its code changes or
 * once in ten seconds.
 *
 * A value that is not known is not there: no moment before the clock is set, no power
 * before the meter has shown it, no state of an output that does not answer. */
#include "publish.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "bus_watch.h"
#include "engine.h"
#include "loop/log.h"
#include "order_gate.h"
#include "orders.h"
#include "troubles.h"
#include "words.h"

enum {
    PROPERTIES_MAX = 20 + SETTINGS_LOADS_MAX * 32 + SETTINGS_BUSES_MAX * 12 + 10,
    MJ_PER_WH = 3600000,
    TEXT_EVERY_MS = 10000,
    MEMORY_PATH_MAX = 256,
    BROKER_STAYS_MS = 10 * MS_PER_S,
};

typedef void write_fn(struct site *site, uint16_t load, uint8_t floor, struct text *value);

struct property_row {
    const char *id, *name;
    enum mqtt_datatype datatype;
    const char *format, *unit;
    write_fn *write;
    bool (*order)(struct site *site, const char *load, const char *text, struct text *answer);
    bool slow; /* at most once in TEXT_EVERY_MS, but for a change of state */
};

/* ---- values of a load ------------------------------------------------------------- */

static void write_whole(struct text *value, int64_t number)
{
    text_add(value, "%" PRId64, number);
}

static void write_bool(struct text *value, bool is)
{
    text_add(value, is ? "true" : "false");
}

static void write_kwh(struct text *value, int64_t energy_mj)
{
    int64_t wh = energy_mj / MJ_PER_WH;
    text_add(value, "%" PRId64 ".%03" PRId64, wh / 1000, wh % 1000);
}

static void write_money(struct text *value, int64_t micro)
{
    int64_t size = micro < 0 ? -micro : micro;
    text_add(value, "%s%" PRId64 ".%04" PRId64, micro < 0 ? "-" : "", size / 1000000,
             size % 1000000 / 100);
}

/* One that is silent, or does other than it says, may be on whatever was ordered. */
static bool output_is_known(const struct site *site, uint16_t load)
{
    enum output_health health = site->loads[load].health;
    return health == OUTPUT_CONFIRMED || health == OUTPUT_PENDING;
}

static void write_on(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (output_is_known(site, load))
        write_bool(value, site->decisions[load].on);
}

static void write_power(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    const struct draw_view *draw = rules_draw(&site->memory, load);
    (void)floor;
    if (engine_draw_is_known(site, load))
        write_whole(value, draw->draw_w);
}

static void write_basis(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    text_add(value, "%s", basis_text(site->decisions[load].basis));
}

static void write_reason(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    reason_text(site, load, value);
}

/* Without the clock nobody knows when today began. */
static bool today_is_known(const struct site *site)
{
    return site->memory.trusted;
}

static void write_spare_energy(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (today_is_known(site))
        write_kwh(value, site->loads[load].today.spare_mj);
}

static void write_grid_energy(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (today_is_known(site))
        write_kwh(value, site->loads[load].today.grid_mj);
}

static void write_energy(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (today_is_known(site))
        write_kwh(value, site->loads[load].today.spare_mj + site->loads[load].today.grid_mj);
}

static void write_run_time(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (today_is_known(site))
        write_whole(value, site->loads[load].today.draw_ms / MS_PER_MIN);
}

static void write_starts(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (today_is_known(site))
        write_whole(value, site->loads[load].today.starts);
}

static void write_output(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    text_add(value, "%s", output_health_text(site->loads[load].health));
}

static void write_order(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    static const char *const words[] = {[HAND_AUTO] = "auto", [HAND_ON] = "on", [HAND_OFF] = "off"};
    const struct load_memory *memory = &site->loads[load];
    (void)floor;
    text_add(value, "%s", words[memory->hand]);
    if (memory->hand == HAND_AUTO || memory->hand_until.ms == MONO_NEVER.ms ||
        !site->now.wall_trusted)
        return;
    int64_t left_ms = mono_since_ms(memory->hand_until, site->now.mono);
    text_add(value, " until ");
    time_text(&site->settings->rules.zone,
              (struct wall){(site->now.wall.ms + left_ms) / MS_PER_S * MS_PER_S}, value);
}

static void write_enabled(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    write_bool(value, !site->loads[load].disabled);
}

static void write_inhibited(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    write_bool(value, site->loads[load].inhibited);
}

static const struct property_row load_rows[] = {
    {"on", "On", MQTT_BOOLEAN, "", "", write_on, NULL, false},
    {"power", "Power drawn", MQTT_INTEGER, "", "W", write_power, NULL, false},
    {"basis", "Basis of the run", MQTT_ENUM,
     "none,manual,floor,cheap-hours,ahead,spare,probe,minimum-on", "", write_basis, NULL, false},
    {"reason", "Reason", MQTT_STRING, "", "", write_reason, NULL, true},
    {"energy-today", "Energy today", MQTT_FLOAT, "", "kWh", write_energy, NULL, true},
    {"energy-spare-today", "Energy from spare power today", MQTT_FLOAT, "", "kWh",
     write_spare_energy, NULL, true},
    {"energy-grid-today", "Energy from the grid today", MQTT_FLOAT, "", "kWh", write_grid_energy,
     NULL, true},
    {"run-time-today", "Time drawing power today", MQTT_INTEGER, "", "min", write_run_time, NULL,
     true},
    {"starts-today", "Starts today", MQTT_INTEGER, "", "", write_starts, NULL, false},
    {"output", "Output", MQTT_ENUM, "unknown,confirmed,pending,failed,unsafe,unconfirmed", "",
     write_output, NULL, false},
    {"order", "Order by hand", MQTT_STRING, "", "", write_order, order_load, false},
    {"enable", "Automatic control", MQTT_BOOLEAN, "", "", write_enabled, order_enable, false},
    {"inhibit", "Inhibit", MQTT_BOOLEAN, "", "", write_inhibited, order_inhibit, false},
};

/* ---- values of a load that learns -------------------------------------------------- */

static void write_worth(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    if (heat_knows(site->heat[load]))
        write_money(value, site->heat[load]->worth_micro);
}

static void write_held(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    write_kwh(value, heat_held_mj(&site->settings->loads[load].water, site->heat[load]));
}

static void write_held_share(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    write_whole(value, heat_held_percent(&site->settings->loads[load].water, site->heat[load]));
}

static void write_days_learnt(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    write_whole(value, site->heat[load]->days);
}

static const struct property_row heat_rows_of_load[] = {
    {"heat-worth", "Worth of a kWh stored now", MQTT_FLOAT, "", "/kWh", write_worth, NULL, true},
    {"heat-held", "Heat believed held", MQTT_FLOAT, "", "kWh", write_held, NULL, true},
    {"heat-held-share", "Heat believed held, of full", MQTT_INTEGER, "0:100", "%", write_held_share,
     NULL, true},
    {"days-learnt", "Days learnt from", MQTT_INTEGER, "", "d", write_days_learnt, NULL, true},
};

/* ---- values of a floor ------------------------------------------------------------- */

static struct floor_view view_of(struct site *site, uint16_t load, uint8_t floor)
{
    return rules_floor(&site->settings->rules, &site->memory, load, floor);
}

static void write_progress(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    struct floor_view view = view_of(site, load, floor);
    if (!view.begun)
        return;
    int64_t percent =
        view.met || view.amount <= 0 ? 100 : 100 * (view.amount - view.left) / view.amount;
    write_whole(value, percent < 0 ? 0 : percent > 100 ? 100 : percent);
}

static void write_met(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    struct floor_view view = view_of(site, load, floor);
    if (view.begun && !view.blind) /* else nothing shows whether it drew */
        write_bool(value, view.met);
}

static void write_deadline(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    struct floor_view view = view_of(site, load, floor);
    if (view.begun && !view.elapsed)
        time_text(&site->settings->rules.zone, (struct wall){view.deadline_ms}, value);
}

static const struct property_row floor_rows[] = {
    {"progress", "progress", MQTT_INTEGER, "0:100", "%", write_progress, NULL, true},
    {"met", "met", MQTT_BOOLEAN, "", "", write_met, NULL, false},
    {"deadline", "deadline", MQTT_DATETIME, "", "", write_deadline, NULL, false},
};

/* ---- values of the site ------------------------------------------------------------- */

static void write_grid_power(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    if (site->reading.grid.quality == READING_FRESH && (site->reading.has & HAS_GRID_POWER))
        write_whole(value, site->reading.grid_power_w);
}

static void write_spare(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    if (site->outcome.spare_w != INT32_MIN)
        write_whole(value, site->outcome.spare_w);
}

static void write_solar(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    if (site->reading.solar.quality == READING_FRESH && (site->reading.has & HAS_SOLAR_POWER))
        write_whole(value, site->reading.solar_power_w);
}

static void write_import(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    write_kwh(value, site->grid.import_mj);
}

static void write_export(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    write_kwh(value, site->grid.export_mj);
}

static void write_quality(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    static const char *const words[] = {[READING_ABSENT] = "absent",
                                        [READING_FRESH] = "fresh",
                                        [READING_STALE] = "stale",
                                        [READING_IMPLAUSIBLE] = "implausible"};
    (void)load, (void)floor;
    text_add(value, "%s", words[site->reading.grid.quality]);
}

static void write_holiday(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    if (site->memory.holiday_back.ms == 0) {
        text_add(value, "end");
        return;
    }
    text_add(value, "until ");
    time_text(&site->settings->rules.zone, site->memory.holiday_back, value);
}

static void write_all_inhibited(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)load, (void)floor;
    write_bool(value, site->memory.all_inhibited);
}

static bool order_site_holiday(struct site *site, const char *load, const char *text,
                               struct text *answer)
{
    (void)load;
    return order_holiday(site, text, answer);
}

static bool order_inhibit_all(struct site *site, const char *load, const char *text,
                              struct text *answer)
{
    (void)load;
    return order_inhibit(site, "all", text, answer);
}

static const struct property_row site_rows[] = {
    {"grid-power", "Grid power, import positive", MQTT_INTEGER, "", "W", write_grid_power, NULL,
     false},
    {"spare-power", "Spare power", MQTT_INTEGER, "", "W", write_spare, NULL, false},
    {"solar-power", "Solar power", MQTT_INTEGER, "", "W", write_solar, NULL, false},
    {"import-energy", "Energy imported", MQTT_FLOAT, "", "kWh", write_import, NULL, true},
    {"export-energy", "Energy exported", MQTT_FLOAT, "", "kWh", write_export, NULL, true},
    {"reading", "Quality of the reading", MQTT_ENUM, "absent,fresh,stale,implausible", "",
     write_quality, NULL, false},
    {"holiday", "Holiday", MQTT_STRING, "", "", write_holiday, order_site_holiday, false},
    {"inhibit", "Inhibit of all loads", MQTT_BOOLEAN, "", "", write_all_inhibited,
     order_inhibit_all, false},
};

/* ---- values of a bus ------------------------------------------------------------------ */

/* A bus takes the place of a load, from here on. */
enum { BUS_BASE = 0xff00 };

static bool is_bus(uint16_t load)
{
    return load >= BUS_BASE && load != LOAD_ALL;
}

static uint8_t bus_of(uint16_t load)
{
    return (uint8_t)(load - BUS_BASE);
}

#define WRITE_BUS_COUNT(name, which)                                                               \
    static void write_##name(struct site *site, uint16_t load, uint8_t floor, struct text *value)  \
    {                                                                                              \
        (void)floor;                                                                               \
        write_whole(value, (int64_t)bus_watch_count(site, bus_of(load), which));                   \
    }
WRITE_BUS_COUNT(asked, BUS_COUNT_ASKED)
WRITE_BUS_COUNT(answered, BUS_COUNT_ANSWERED)
WRITE_BUS_COUNT(timeouts, BUS_COUNT_TIMEOUTS)
WRITE_BUS_COUNT(corrupt, BUS_COUNT_CORRUPT)
WRITE_BUS_COUNT(exceptions, BUS_COUNT_EXCEPTIONS)
WRITE_BUS_COUNT(retries, BUS_COUNT_RETRIES)
WRITE_BUS_COUNT(doubtful, BUS_COUNT_DOUBTFUL)
WRITE_BUS_COUNT(foreign, BUS_COUNT_FOREIGN)

static void write_answer_times(struct site *site, uint16_t load, uint8_t floor, struct text *value)
{
    (void)floor;
    bus_watch_times(site, bus_of(load), value);
}

static const struct property_row bus_rows[] = {
    {"questions", "Questions", MQTT_INTEGER, "", "", write_asked, NULL, true},
    {"answers", "Answers", MQTT_INTEGER, "", "", write_answered, NULL, true},
    {"timeouts", "Questions without an answer", MQTT_INTEGER, "", "", write_timeouts, NULL, true},
    {"corrupt", "Corrupt answers (CRC and others)", MQTT_INTEGER, "", "", write_corrupt, NULL,
     true},
    {"exceptions", "Exceptions", MQTT_INTEGER, "", "", write_exceptions, NULL, true},
    {"retries", "Retries", MQTT_INTEGER, "", "", write_retries, NULL, true},
    {"doubtful", "Overheard answers not used", MQTT_INTEGER, "", "", write_doubtful, NULL, true},
    {"foreign", "Questions of another master", MQTT_INTEGER, "", "", write_foreign, NULL, true},
    {"answer-times", "Answer times of each unit", MQTT_STRING, "", "", write_answer_times, NULL,
     true},
};

/* ---- values of the gateway -------------------------------------------------------------- */

enum { GATEWAY_PLACE = BUS_BASE - 1 };

#define WRITE_GATEWAY_COUNT(name, field)                                                           \
    static void write_##name(struct site *site, uint16_t load, uint8_t floor, struct text *value)  \
    {                                                                                              \
        (void)load, (void)floor;                                                                   \
        write_whole(value, (int64_t)site->gateway_state.field);                                    \
    }
WRITE_GATEWAY_COUNT(connections, connections)
WRITE_GATEWAY_COUNT(at_hand, answered)
WRITE_GATEWAY_COUNT(passed, passed)
WRITE_GATEWAY_COUNT(shared, shared)
WRITE_GATEWAY_COUNT(refused, refused)
WRITE_GATEWAY_COUNT(turned_away, turned_away)
WRITE_GATEWAY_COUNT(dropped, dropped)

static const struct property_row gateway_rows[] = {
    {"connections", "Connections", MQTT_INTEGER, "", "", write_connections, NULL, true},
    {"answered", "Answers from what a poll had read", MQTT_INTEGER, "", "", write_at_hand, NULL,
     true},
    {"passed", "Questions passed on to a meter", MQTT_INTEGER, "", "", write_passed, NULL, true},
    {"shared", "Answers shared with an equal question", MQTT_INTEGER, "", "", write_shared, NULL,
     true},
    {"refused", "Exceptions of the gateway's own", MQTT_INTEGER, "", "", write_refused, NULL, true},
    {"turned-away", "Connections turned away", MQTT_INTEGER, "", "", write_turned_away, NULL, true},
    {"dropped", "Connections hung up on", MQTT_INTEGER, "", "", write_dropped, NULL, true},
};

#define COUNT(rows) (sizeof(rows) / sizeof((rows)[0]))

/* ---- the order of properties ---------------------------------------------------------- */

typedef void visit_fn(struct site *site, void *context, int index, const struct property_row *row,
                      uint16_t load, uint8_t floor);

enum { NO_FLOOR = 0xff };

/* Every property, in the one order that gives it its index. */
static int each_property(struct site *site, visit_fn *visit, void *context)
{
    int index = 0;
    for (size_t k = 0; k < COUNT(site_rows); k++)
        visit(site, context, index++, &site_rows[k], LOAD_ALL, NO_FLOOR);
    for (uint16_t i = 0; i < site->settings->bus_count; i++)
        for (size_t k = 0; k < COUNT(bus_rows); k++)
            visit(site, context, index++, &bus_rows[k], (uint16_t)(BUS_BASE + i), NO_FLOOR);
    for (size_t k = 0; site->settings->gateway.enabled && k < COUNT(gateway_rows); k++)
        visit(site, context, index++, &gateway_rows[k], GATEWAY_PLACE, NO_FLOOR);
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        for (size_t k = 0; k < COUNT(load_rows); k++)
            visit(site, context, index++, &load_rows[k], i, NO_FLOOR);
        for (size_t k = 0; k < COUNT(heat_rows_of_load) && site->heat[i]; k++)
            visit(site, context, index++, &heat_rows_of_load[k], i, NO_FLOOR);
        for (uint8_t f = 0; f < site->settings->loads[i].floor_count; f++)
            for (size_t k = 0; k < COUNT(floor_rows); k++)
                visit(site, context, index++, &floor_rows[k], i, f);
    }
    return index;
}

static void name_node(struct site *site, struct mqtt_property *property, uint16_t load)
{
    if (is_bus(load)) {
        const char *name = site->settings->buses[bus_of(load)].name;
        snprintf(property->node, sizeof(property->node), "bus-%.*s", SETTINGS_NAME_MAX - 1, name);
        snprintf(property->node_name, sizeof(property->node_name), "Bus %s", name);
        return;
    }
    if (load == GATEWAY_PLACE) {
        snprintf(property->node, sizeof(property->node), "gateway");
        snprintf(property->node_name, sizeof(property->node_name), "Gateway");
        return;
    }
    bool of_site = load == LOAD_ALL;
    snprintf(property->node, sizeof(property->node), "%s",
             of_site ? "site" : site->settings->names[load].name);
    snprintf(property->node_name, sizeof(property->node_name), "%s",
             of_site ? site->settings->site_name : site->settings->names[load].title);
}

static void describe_one(struct site *site, void *context, int index,
                         const struct property_row *row, uint16_t load, uint8_t floor)
{
    struct mqtt_property *property = &((struct mqtt_property *)context)[index];
    *property = (struct mqtt_property){.datatype = row->datatype, .settable = row->order != NULL};
    name_node(site, property, load);
    if (floor == NO_FLOOR) {
        snprintf(property->id, sizeof(property->id), "%s", row->id);
        snprintf(property->name, sizeof(property->name), "%s", row->name);
    } else {
        snprintf(property->id, sizeof(property->id), "floor-%u-%s", floor + 1, row->id);
        snprintf(property->name, sizeof(property->name), "Floor %u %s", floor + 1, row->name);
    }
    snprintf(property->format, sizeof(property->format), "%s", row->format);
    snprintf(property->unit, sizeof(property->unit), "%s", row->unit);
}

static int describe(struct site *site, struct mqtt_property properties[])
{
    return each_property(site, describe_one, properties);
}

/* Beside the ledger: what the broker's connection keeps from run to run. */
static const char *memory_path(const struct site *site, char path[static MEMORY_PATH_MAX])
{
    const char *ledger = site->settings->ledger.path, *slash = strrchr(ledger, '/');
    int folder = slash ? (int)(slash - ledger) + 1 : 0;
    snprintf(path, MEMORY_PATH_MAX, "%.*sbroker", folder, ledger);
    return path;
}

void publish_start(struct site *site)
{
    static struct mqtt_property properties[PROPERTIES_MAX]; /* too large for a stack */
    struct trouble trouble;
    char path[MEMORY_PATH_MAX];
    if (!site->settings->mqtt.enabled)
        return;
    int count = describe(site, properties);
    site->mqtt = mqtt_start(&site->settings->mqtt, site->settings->site_name, properties, count,
                            memory_path(site, path), site->inbox, &trouble);
    site->broker_since = MONO_NEVER;
    if (!site->mqtt)
        site_trouble(site, SITE_TROUBLE_BROKER, "MQTT: %s", trouble.text);
    for (int k = 0; site->mqtt && k < site->trouble_count; k++) /* what was wrong before */
        site_trouble_again(site, k);
}

void publish_describe(struct site *site)
{
    static struct mqtt_property properties[PROPERTIES_MAX];
    if (!site->mqtt)
        return;
    mqtt_describe(site->mqtt, site->settings->site_name, properties, describe(site, properties));
    mqtt_retry(site->mqtt); /* a person is here and wants to see it work */
}

static void publish_one(struct site *site, void *context, int index, const struct property_row *row,
                        uint16_t load, uint8_t floor)
{
    char buffer[MQTT_VALUE_MAX];
    struct text value = text_in(buffer, sizeof(buffer));
    const bool *slow_too = context;
    if (row->slow && !*slow_too)
        return;
    row->write(site, load, floor, &value);
    mqtt_value(site->mqtt, index, buffer); /* nothing: what was there is not known any more */
}

static bool a_reason_changed(struct site *site)
{
    bool changed = false;
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        changed |= site->published[i] != site->decisions[i].reason.code;
        site->published[i] = site->decisions[i].reason.code;
    }
    return changed;
}

/* ---- is the broker there? ------------------------------------------------------------------ */

/* Once: the reason may change from try to try, and status shows it as it is now. */
static void tell_away(struct site *site)
{
    char why[MQTT_VALUE_MAX];
    site->broker_since = MONO_NEVER;
    if (site_has_trouble(site, SITE_TROUBLE_BROKER))
        return;
    mqtt_trouble(site->mqtt, why);
    site_trouble(site, SITE_TROUBLE_BROKER, "no connection to the broker: %s", why);
}

/* Back is what stays: one that throws us out again each second is told once as away. */
static void tell_back(struct site *site)
{
    char why[MQTT_VALUE_MAX];
    if (site->broker_since.ms == MONO_NEVER.ms)
        site->broker_since = site->now.mono;
    if (mono_since_ms(site->now.mono, site->broker_since) < BROKER_STAYS_MS)
        return;
    mqtt_trouble(site->mqtt, why);
    if (why[0])
        site_trouble(site, SITE_TROUBLE_BROKER, "MQTT: %s", why);
    else
        site_solved(site, SITE_TROUBLE_BROKER);
}

static void watch_broker(struct site *site)
{
    if (mqtt_away(site->mqtt))
        tell_away(site);
    else if (mqtt_connected(site->mqtt))
        tell_back(site);
}

void publish_turn(struct site *site)
{
    if (!site->mqtt)
        return;
    watch_broker(site);
    bool slow_too = a_reason_changed(site) || site->now.mono.ms >= site->texts_due.ms;
    if (slow_too)
        site->texts_due = mono_after(site->now.mono, TEXT_EVERY_MS);
    each_property(site, publish_one, &slow_too);
}

/* ---- orders ------------------------------------------------------------------------------ */

struct wanted {
    int index;
    const struct property_row *row;
    uint16_t load;
};

static void find_one(struct site *site, void *context, int index, const struct property_row *row,
                     uint16_t load, uint8_t floor)
{
    struct wanted *wanted = context;
    (void)site, (void)floor;
    if (index == wanted->index)
        *wanted = (struct wanted){index, row, load};
}

static bool is_topic_of(const char *topic, const char *node, const char *id)
{
    char end[MQTT_TOPIC_MAX];
    int length = snprintf(end, sizeof(end), "/%s/%s/set", node, id);
    size_t whole = strlen(topic);
    return whole > (size_t)length && strcmp(topic + whole - (size_t)length, end) == 0;
}

static void obey(struct site *site, const struct mqtt_message *message)
{
    char buffer[SITE_TROUBLE_TEXT_MAX];
    struct text answer = text_in(buffer, sizeof(buffer));
    struct wanted wanted = {.index = message->property};
    each_property(site, find_one, &wanted);
    if (!wanted.row || !wanted.row->order)
        return;
    const char *load = wanted.load == LOAD_ALL ? "all" : site->settings->names[wanted.load].name;
    if (!is_topic_of(message->topic, wanted.load == LOAD_ALL ? "site" : load, wanted.row->id))
        return; /* it was sent before a reload gave its number to another property */
    if (!order_gate_admit(site, ORDERS_BY_BROKER, wanted.row->id, message->value, &answer)) {
        mqtt_order_refused(site->mqtt, message->property);
    } else if (wanted.row->order(site, load, message->value, &answer)) {
        if (site->orders.record)
            log_line(LOG_LEVEL_NOTICE, "%s: %s", message->topic, buffer);
        site_solved(site, "order-refused");
    } else {
        if (site->orders.record)
            site_trouble(site, "order-refused", "%s refused: %s", message->topic, buffer);
        mqtt_order_refused(site->mqtt, message->property);
    }
}

void publish_take_orders(struct site *site)
{
    struct mqtt_message message;
    while (mailbox_take(site->inbox, &message)) {
        if (message.property >= 0)
            obey(site, &message);
        else if (outputs_state_message(site->outputs, message.topic, message.value, message.length,
                                       site->now.mono))
            continue;
    }
}

void publish_listen(struct site *site)
{
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++)
        if (site->mqtt && site->settings->outputs[i].state_topic[0])
            mqtt_listen(site->mqtt, site->settings->outputs[i].state_topic);
}
