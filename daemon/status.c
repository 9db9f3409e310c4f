/* status.c - everything that is known now, as one JSON object on one line. */
#include "status.h"

#include <cjson/cJSON.h>
#include <stdlib.h>
#include <string.h>

#include "engine.h"
#include "words.h"

#ifndef SLUICE_VERSION
#error "SLUICE_VERSION comes from the build"
#endif

static void add_number(cJSON *to, const char *key, int64_t value)
{
    cJSON_AddNumberToObject(to, key, (double)value);
}

static void add_number_if(cJSON *to, const char *key, bool known, int64_t value)
{
    if (known)
        add_number(to, key, value);
    else
        cJSON_AddNullToObject(to, key);
}

static void add_time(struct site *site, cJSON *to, const char *key, bool known, int64_t wall_ms)
{
    char buffer[40];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!known) {
        cJSON_AddNullToObject(to, key);
        return;
    }
    time_text(&site->settings->rules.zone, (struct wall){wall_ms}, &text);
    cJSON_AddStringToObject(to, key, buffer);
}

static bool is_fresh(const struct reading *reading, const struct source *source,
                     enum reading_has value)
{
    return source->quality == READING_FRESH && (reading->has & value) != 0;
}

static void add_reading(struct site *site, cJSON *to)
{
    static const char *const words[] = {[READING_ABSENT] = "absent",
                                        [READING_FRESH] = "fresh",
                                        [READING_STALE] = "stale",
                                        [READING_IMPLAUSIBLE] = "implausible"};
    const struct reading *reading = &site->reading;
    cJSON *object = cJSON_AddObjectToObject(to, "reading");
    bool any = (reading->has & HAS_GRID_POWER) != 0;
    cJSON_AddStringToObject(object, "quality", words[reading->grid.quality]);
    add_number_if(object, "age_ms", any, mono_since_ms(site->now.mono, reading->grid.taken));
    add_number_if(object, "grid_power_w", any, reading->grid_power_w);
    if (reading->has & HAS_PHASE_POWER) {
        cJSON *phases = cJSON_AddArrayToObject(object, "phase_power_w");
        for (unsigned phase = 0; phase < site->settings->rules.phase_count; phase++)
            cJSON_AddItemToArray(phases, cJSON_CreateNumber(reading->phase_power_w[phase]));
    } else {
        cJSON_AddNullToObject(object, "phase_power_w");
    }
    add_number_if(object, "solar_power_w", is_fresh(reading, &reading->solar, HAS_SOLAR_POWER),
                  reading->solar_power_w);
    add_number_if(object, "battery_power_w",
                  is_fresh(reading, &reading->battery, HAS_BATTERY_POWER),
                  reading->battery_power_w);
    const char *fault = "";
    for (uint8_t k = 0; k < site->settings->meter_count; k++)
        if (site->settings->meters[k].role == ROLE_GRID && site->meters[k].fault != PLAUSIBLE)
            fault = implausible_text(site->meters[k].fault);
    cJSON_AddStringToObject(object, "fault", fault);
}

static void add_meters(struct site *site, cJSON *to)
{
    static const char *const roles[] = {[ROLE_GRID] = "grid",
                                        [ROLE_SOLAR] = "solar",
                                        [ROLE_BATTERY] = "battery",
                                        [ROLE_LOAD] = "load",
                                        [ROLE_TANK] = "tank"};
    cJSON *array = cJSON_AddArrayToObject(to, "meters");
    for (uint8_t k = 0; k < site->settings->meter_count; k++) {
        const struct meter_settings *settings = &site->settings->meters[k];
        const struct meter_watch *meter = &site->meters[k];
        cJSON *object = cJSON_CreateObject();
        cJSON_AddItemToArray(array, object);
        cJSON_AddStringToObject(object, "name", settings->name);
        cJSON_AddStringToObject(object, "role", roles[settings->role]);
        add_number_if(object, "age_ms", meter->read, mono_since_ms(site->now.mono, meter->taken));
        cJSON_AddStringToObject(object, "outcome", bus_outcome_text(meter->outcome));
        cJSON_AddStringToObject(object, "detail", meter->detail);
    }
}

static void add_unit(const struct bus_unit_quality *unit, cJSON *array)
{
    cJSON *object = cJSON_CreateObject();
    cJSON_AddItemToArray(array, object);
    add_number(object, "unit", unit->unit);
    add_number(object, "asked", (int64_t)unit->asked);
    add_number(object, "answered", (int64_t)unit->answered);
    add_number(object, "timeouts", (int64_t)unit->timeouts);
    add_number(object, "corrupt", (int64_t)unit->corrupt);
    add_number(object, "exceptions", (int64_t)unit->exceptions);
    add_number(object, "retries", (int64_t)unit->retries);
    add_number(object, "answer_p50_us", unit->p50_us);
    add_number(object, "answer_p95_us", unit->p95_us);
    add_number(object, "answer_p99_us", unit->p99_us);
}

static void add_buses(struct site *site, cJSON *to)
{
    cJSON *array = cJSON_AddArrayToObject(to, "buses");
    for (uint8_t k = 0; k < site->settings->bus_count; k++) {
        const struct bus_quality *quality = &site->quality[k];
        cJSON *object = cJSON_CreateObject();
        cJSON_AddItemToArray(array, object);
        cJSON_AddStringToObject(object, "name", site->settings->buses[k].name);
        cJSON_AddStringToObject(object, "mode",
                                site->settings->buses[k].mode == BUS_LISTEN ? "listen" : "poll");
        add_number(object, "noise_bytes", (int64_t)quality->noise_bytes);
        add_number(object, "doubtful", (int64_t)quality->doubtful);
        add_number(object, "foreign", (int64_t)quality->foreign);
        cJSON_AddBoolToObject(object, "two_masters", quality->two_masters);
        cJSON *units = cJSON_AddArrayToObject(object, "units");
        for (uint8_t i = 0; i < quality->unit_count; i++)
            add_unit(&quality->unit[i], units);
    }
}

static void add_totals(cJSON *to, const char *key, const struct load_totals *totals)
{
    cJSON *object = cJSON_AddObjectToObject(to, key);
    add_number(object, "on_ms", totals->on_ms);
    add_number(object, "draw_ms", totals->draw_ms);
    add_number(object, "spare_mwh", totals->spare_mj / 3600);
    add_number(object, "grid_mwh", totals->grid_mj / 3600);
    add_number(object, "starts", totals->starts);
}

static void add_floors(struct site *site, uint16_t load, cJSON *to)
{
    static const char *const measures[] = {
        [FLOOR_TIME] = "time", [FLOOR_ENERGY] = "energy", [FLOOR_SATISFIED] = "satisfied"};
    cJSON *array = cJSON_AddArrayToObject(to, "floors");
    for (uint8_t k = 0; k < site->settings->loads[load].floor_count; k++) {
        struct floor_view view = rules_floor(&site->settings->rules, &site->memory, load, k);
        cJSON *object = cJSON_CreateObject();
        cJSON_AddItemToArray(array, object);
        cJSON_AddStringToObject(object, "measure",
                                measures[site->settings->loads[load].floor[k].measure]);
        add_number(object, "amount", view.amount);
        add_number(object, "done", view.done);
        add_number(object, "left", view.left);
        if (view.blind) /* it was run, and nothing shows whether it drew */
            cJSON_AddNullToObject(object, "met");
        else
            cJSON_AddBoolToObject(object, "met", view.met);
        cJSON_AddBoolToObject(object, "due", view.due);
        add_time(site, object, "deadline", view.begun && !view.elapsed, view.deadline_ms);
        add_time(site, object, "latest_start", view.begun && !view.elapsed && !view.met,
                 view.latest_start_ms);
    }
}

/* By its thermostat, proven: one that only stopped drawing, or never drew, may be broken. */
static bool is_satisfied(const struct load_memory *memory)
{
    const struct draw_view *draw = &memory->draw.view;
    return memory->satisfied && !draw->supposed && !draw->unexplained && !draw->unsure;
}

static void add_hand(struct site *site, const struct load_memory *memory, cJSON *to)
{
    static const char *const hands[] = {[HAND_AUTO] = "auto", [HAND_ON] = "on", [HAND_OFF] = "off"};
    bool ends = memory->hand != HAND_AUTO && memory->hand_until.ms != MONO_NEVER.ms;
    cJSON_AddStringToObject(to, "hand", hands[memory->hand]);
    add_number_if(to, "hand_left_ms", ends, mono_since_ms(memory->hand_until, site->now.mono));
    cJSON_AddBoolToObject(to, "enabled", !memory->disabled);
    cJSON_AddBoolToObject(to, "inhibited", memory->inhibited);
    cJSON_AddBoolToObject(to, "satisfied", is_satisfied(memory));
}

/* What the output is known to be, not what it was ordered; and when its device last said so. */
static void add_output(struct site *site, uint16_t load, cJSON *to)
{
    static const char *const states[] = {
        [OUTPUT_IS_UNKNOWN] = "unknown", [OUTPUT_IS_OFF] = "off", [OUTPUT_IS_ON] = "on"};
    struct output_view view = outputs_view(site->outputs, load);
    bool stuck = rules_draw(&site->memory, load)->state == DRAW_STUCK; /* against what it says */
    cJSON_AddStringToObject(to, "output_is", states[stuck ? OUTPUT_IS_UNKNOWN : view.state]);
    add_number_if(to, "output_heard_ms", view.has_been_heard,
                  mono_since_ms(site->now.mono, view.heard));
    cJSON_AddStringToObject(to, "output", output_health_text(site->loads[load].health));
    cJSON_AddStringToObject(to, "output_detail", outputs_detail(site->outputs, load));
}

static void add_decision(struct site *site, uint16_t load, cJSON *to)
{
    char buffer[TROUBLE_TEXT_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    const struct decision *decision = &site->decisions[load];
    reason_text(site, load, &text);
    cJSON_AddStringToObject(to, "basis", basis_text(decision->basis));
    cJSON_AddStringToObject(to, "reason", buffer);
    cJSON_AddStringToObject(to, "reason_name", reason_name(decision->reason.code));
    add_output(site, load, to);
}

/* Null: nobody is away. */
static void add_holiday(struct site *site, uint16_t load, cJSON *to)
{
    const struct rules_settings *rules = &site->settings->rules;
    struct wall back = site->memory.holiday_back;
    if (back.ms == 0) {
        cJSON_AddNullToObject(to, "holiday");
        return;
    }
    struct return_view view = rules_return(rules, load, site->now.wall, back);
    cJSON *object = cJSON_AddObjectToObject(to, "holiday");
    cJSON_AddBoolToObject(object, "as_usual", rules->loads[load].normal_on_holiday);
    add_time(site, object, "heated_from", view.heats_up, view.from.ms);
    add_number_if(object, "heat_up_short_ms", view.heats_up, view.short_ms);
}

static void add_draw(struct site *site, uint16_t load, cJSON *to)
{
    static const char *const draws[] = {[DRAW_NONE] = "none",
                                        [DRAW_WAITING] = "waiting",
                                        [DRAW_SEEN] = "seen",
                                        [DRAW_OPEN] = "open",
                                        [DRAW_ASSUMED] = "assumed",
                                        [DRAW_STUCK] = "stuck"};
    const struct draw_view *draw = rules_draw(&site->memory, load);
    bool known = engine_draw_is_known(site, load);
    bool was_seen = !known && (draw->state == DRAW_SEEN || draw->state == DRAW_STUCK);
    add_number_if(to, "draw_w", known, draw->draw_w);
    cJSON_AddStringToObject(to, "draw", was_seen ? "unknown" : draws[draw->state]);
    add_number(to, "power_w", draw->power_w);
    cJSON_AddBoolToObject(to, "power_measured", draw->power_measured);
}

/* Null: it learns nothing. */
static void add_heat(struct site *site, uint16_t load, cJSON *to)
{
    const struct heat_memory *heat = site->heat[load];
    const struct heat_settings *water = &site->settings->loads[load].water;
    if (!heat) {
        cJSON_AddNullToObject(to, "heat");
        return;
    }
    cJSON *object = cJSON_AddObjectToObject(to, "heat");
    add_number(object, "days_learnt", heat->days);
    add_number(object, "held_mwh", heat_held_mj(water, heat) / 3600);
    add_number(object, "full_mwh", heat_full_mj(water) / 3600);
    add_number(object, "held_percent", heat_held_percent(water, heat));
    add_number_if(object, "worth_micro_per_kwh", heat_knows(heat), heat->worth_micro);
}

static void add_load(struct site *site, uint16_t load, cJSON *array)
{
    static const char *const kinds[] = {[LOAD_SWITCHED] = "switched",
                                        [LOAD_STAGED] = "staged",
                                        [LOAD_SETPOINT] = "setpoint",
                                        [LOAD_REQUEST] = "request"};
    static const char *const states[] = {[STATE_OFF] = "off",
                                         [STATE_STARTING] = "starting",
                                         [STATE_ON] = "on",
                                         [STATE_STOPPING] = "stopping"};
    const struct load_settings *settings = &site->settings->loads[load];
    const struct load_memory *memory = &site->loads[load];
    cJSON *object = cJSON_CreateObject();
    cJSON_AddItemToArray(array, object);
    cJSON_AddStringToObject(object, "name", site->settings->names[load].name);
    cJSON_AddStringToObject(object, "title", site->settings->names[load].title);
    cJSON_AddStringToObject(object, "kind", kinds[settings->kind]);
    add_number(object, "priority", settings->priority);
    cJSON_AddBoolToObject(object, "on", site->decisions[load].on);
    cJSON_AddStringToObject(object, "state", states[memory->state]);
    add_number(object, "level_w", memory->level_w);
    add_number_if(object, "tank_temperature_mc",
                  site->load_reading[load].tank.quality == READING_FRESH,
                  site->load_reading[load].tank_temperature_mc);
    add_draw(site, load, object);
    add_decision(site, load, object);
    add_hand(site, memory, object);
    add_holiday(site, load, object);
    add_totals(object, "today", &memory->today);
    add_totals(object, "total", &memory->total);
    add_floors(site, load, object);
    add_heat(site, load, object);
}

/* Null: there is no gateway. */
static void add_gateway(struct site *site, cJSON *to)
{
    struct gateway_state state;
    if (!site->gateway) {
        cJSON_AddNullToObject(to, "gateway");
        return;
    }
    gateway_look(site->gateway, &state);
    cJSON *object = cJSON_AddObjectToObject(to, "gateway");
    add_number(object, "connections", state.connections);
    add_number(object, "answered", (int64_t)state.answered);
    add_number(object, "passed", (int64_t)state.passed);
    add_number(object, "shared", (int64_t)state.shared);
    add_number(object, "refused", (int64_t)state.refused);
    add_number(object, "turned_away", (int64_t)state.turned_away);
    add_number(object, "dropped", (int64_t)state.dropped);
    cJSON_AddStringToObject(object, "trouble", state.trouble);
}

static void add_edges(struct site *site, cJSON *to)
{
    char text[LEDGER_EVENT_MAX] = "";
    cJSON *mqtt = cJSON_AddObjectToObject(to, "mqtt");
    cJSON_AddBoolToObject(mqtt, "enabled", site->mqtt != NULL);
    cJSON_AddBoolToObject(mqtt, "connected", site->mqtt && mqtt_connected(site->mqtt));
    if (site->mqtt)
        mqtt_trouble(site->mqtt, text);
    cJSON_AddStringToObject(mqtt, "trouble", text);
    add_gateway(site, to);
    cJSON *ledger = cJSON_AddObjectToObject(to, "ledger");
    ledger_trouble(site->ledger, text);
    cJSON_AddStringToObject(ledger, "trouble", text);
    cJSON *troubles = cJSON_AddArrayToObject(to, "troubles");
    for (int k = 0; k < site->trouble_count; k++)
        cJSON_AddItemToArray(troubles, cJSON_CreateString(site->troubles[k].text));
}

/* Which settings are in force. */
static void add_settings(struct site *site, cJSON *to)
{
    const struct accepted_state *accepted = &site->accepted;
    cJSON *object = cJSON_AddObjectToObject(to, "settings");
    cJSON_AddStringToObject(object, "file", site->settings_path);
    cJSON_AddStringToObject(object, "in_force", accepted->in_force ? "last-accepted" : "file");
    add_time(site, object, "accepted", accepted->in_force && accepted->at.ms != 0, accepted->at.ms);
}

char *status_text(struct site *site)
{
    const struct wall *back = &site->memory.holiday_back;
    cJSON *root = cJSON_CreateObject();
    cJSON_AddStringToObject(root, "site", site->settings->site_name);
    cJSON_AddStringToObject(root, "version", SLUICE_VERSION);
    add_settings(site, root);
    add_time(site, root, "time", true, site->now.wall.ms);
    cJSON_AddBoolToObject(root, "clock_trusted", site->memory.trusted);
    add_number(root, "uptime_s", mono_since_ms(site->now.mono, site->started) / MS_PER_S);
    add_reading(site, root);
    add_number_if(root, "spare_w", site->outcome.spare_w != INT32_MIN, site->outcome.spare_w);
    add_number(root, "import_mwh", site->grid.import_mj / 3600);
    add_number(root, "export_mwh", site->grid.export_mj / 3600);
    add_number(root, "gap_ms", site->grid.gap_ms);
    add_time(site, root, "holiday_back", back->ms != 0, back->ms);
    cJSON_AddBoolToObject(root, "inhibited", site->memory.all_inhibited);
    add_meters(site, root);
    add_buses(site, root);
    cJSON *loads = cJSON_AddArrayToObject(root, "loads");
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++)
        add_load(site, i, loads);
    add_edges(site, root);
    char *text = cJSON_PrintUnformatted(root);
    cJSON_Delete(root);
    return text;
}
