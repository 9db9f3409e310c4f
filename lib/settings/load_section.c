/* load_section.c - what rows alone cannot say of a load.
 *
 * A set-point may be written in watts or in amps; amps become watts by the site's
 * voltage and the load's phases. What a kind of load needs, and what makes no sense for
 * it, is checked here, at the place where it was written. */
#include "load_section.h"

#include <string.h>

#include "output/backend.h"
#include "output_section.h"
#include "rules/kind.h"
#include "sections.h"
#include "sense.h"

enum { CHARGER_LEAST_MA = 6000, POWER_MOST_W = 1000000 };

/* ---- powers -----------------------------------------------------------------------------------
 */

/* A power, or where `w_per_ka` is given, a current that becomes one; `amps` tells. */
static bool read_power(const struct reader *reader, const struct node *node, const char *key,
                       int64_t w_per_ka, int32_t *power_w, bool *amps)
{
    struct trouble trouble, not_amps;
    int64_t value, most = POWER_MOST_W;
    *amps = false;
    if (!want_kind(reader, node, NODE_TEXT, w_per_ka ? "a power or a current" : "a power"))
        return false;
    if (!quantity_parse(QUANTITY_POWER_W, node->text, &value, &trouble)) {
        *amps = w_per_ka > 0 && quantity_parse(QUANTITY_CURRENT_MA, node->text, &value, &not_amps);
        if (!*amps)
            return wrong_at(reader, node, "%s: %s%s", key, trouble.text,
                            w_per_ka ? ", or a current, such as 16 A" : "");
        value = value > most * 1000 ? most + 1 : value * w_per_ka / 1000000;
    }
    if (value < 1 || value > most)
        return wrong_at(reader, node, "%s: %s is out of range; from 1 W to 1000 kW", key,
                        QUOTED(node->text));
    *power_w = (int32_t)value;
    return true;
}

static const struct node *need(const struct reader *reader, const struct node *map,
                               const char *name, const char *key, const char *why)
{
    const struct node *node = node_child(map, key);
    if (is_missing(map, key))
        wrong_at_key(reader, map, "load %s needs %s: %s", name, key, why);
    return node;
}

static void read_stages(const struct reader *reader, const struct node *stages,
                        struct load_settings *load)
{
    bool amps;
    if (!want_kind(reader, stages, NODE_LIST, "a list of powers"))
        return;
    for (const struct node *stage = stages->first; stage; stage = stage->next) {
        if (load->stages == RULES_STAGES_MAX) {
            wrong_at(reader, stage, "stages: a load has at most %d", RULES_STAGES_MAX);
            return;
        }
        if (!read_power(reader, stage, "stages", 0, &load->stage_w[load->stages], &amps))
            return;
        load->power_w += load->stage_w[load->stages++];
    }
    if (load->stages == 0)
        wrong_at(reader, stages, "stages: lists no power");
}

/* Power has been read before. */
static void read_setpoint(const struct reader *reader, const struct node *map, const char *name,
                          struct load_settings *load, int64_t w_per_ka)
{
    const struct node *step = node_child(map, "step");
    const struct node *least =
        need(reader, map, name, "least", "the least that its set-point may be, such as 6 A");
    bool in_amps, step_in_amps;
    if (!least || !read_power(reader, least, "least", w_per_ka, &load->least_w, &in_amps))
        return;
    if (in_amps && load->least_w < CHARGER_LEAST_MA * w_per_ka / 1000000) {
        wrong_at(reader, least,
                 "least: a set-point in amps is at least 6 A (IEC 61851-1); with less to spare a "
                 "charger pauses");
        load->least_w = 0; /* said once: the output is not asked about it again */
    }
    if (load->power_w > 0 && load->least_w > load->power_w)
        wrong_at(reader, least, "least: %s is more than power", QUOTED(least->text));
    load->step_w = in_amps ? (int32_t)(w_per_ka / 1000) : 1;
    if (step && read_power(reader, step, "step", w_per_ka, &load->step_w, &step_in_amps) &&
        load->power_w > 0 && load->step_w > load->power_w)
        wrong_at(reader, step, "step: %s is more than power", QUOTED(step->text));
}

static void read_sizes(const struct reader *reader, const struct node *map, const char *name,
                       struct load_settings *load, int64_t w_per_ka)
{
    const struct node *node;
    bool amps;
    load->step_w = 1;
    if (kind_of(load)->has_stages) {
        node = need(reader, map, name, "stages", "the power of each contactor");
        if (node)
            read_stages(reader, node, load);
        return;
    }
    node = need(reader, map, name, "power", "its nameplate, such as 3.6 kW");
    if (node)
        read_power(reader, node, "power", kind_of(load)->follows ? w_per_ka : 0, &load->power_w,
                   &amps);
    if (kind_of(load)->has_range)
        read_setpoint(reader, map, name, load, w_per_ka);
}

/* ---- floors --------------------------------------------------------------------------------- */

static void read_amount(const struct reader *reader, const struct node *map,
                        struct floor_settings *floor)
{
    static const int64_t most_ms = 31 * (int64_t)MS_PER_DAY, most_mwh = INT64_C(1000000000000);
    const struct node *node = node_child(map, "amount");
    bool energy = floor->measure == FLOOR_ENERGY;
    struct trouble trouble;
    if (is_missing(map, "amount"))
        wrong_at_key(reader, map, "a floor needs amount: such as %s", energy ? "6 kWh" : "3 h");
    if (!node || !want_kind(reader, node, NODE_TEXT, "an amount"))
        return;
    if (!quantity_parse(energy ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS, node->text,
                        &floor->amount, &trouble))
        wrong_at(reader, node, "amount: %s", trouble.text);
    else if (floor->amount <= 0 || floor->amount > (energy ? most_mwh : most_ms))
        wrong_at(reader, node, "amount: %s cannot be kept", QUOTED(node->text));
}

/* What of a floor does not suit its load. */
static void check_floor(const struct reader *reader, const struct node *map,
                        const struct node *load_map, const struct settings *settings,
                        uint16_t index, const struct floor_settings *floor)
{
    const struct load_settings *load = &settings->loads[index];
    const struct node *grid = node_child(map, "grid"), *days = node_child(map, "days");
    if (backend_of(&settings->outputs[index])->on_broker)
        wrong_at_key(reader, map,
                     "a floor must not depend on the broker: this load is switched over MQTT");
    if (floor->measure == FLOOR_SATISFIED && !load->thermostat &&
        !is_misread(load_map, "thermostat"))
        wrong_at_key(reader, map,
                     "\"satisfied\" needs thermostat: yes, only a thermostat can show it");
    if (floor->measure == FLOOR_SATISFIED && !kind_of(load)->shows_step && !load->metered)
        wrong_at_key(
            reader, map,
            "\"satisfied\" can only be seen on a switched load, or one with its own meter");
    if (floor->measure == FLOOR_TIME && kind_of(load)->needs_power)
        wrong_at_key(reader, map,
                     "a floor of a staged or set-point load is measured as energy: time says "
                     "nothing where power varies");
    if (floor->every_days && days)
        wrong_at_key(reader, days, "write days or every_days, not both");
    if (grid && floor->grid == FLOOR_IN_CHEAPEST_HOURS && settings->rules.tariff.count == 0)
        wrong_at(reader, grid,
                 "grid: cheapest_hours needs the section tariff with its import "
                 "prices");
}

static void read_floor(const struct reader *reader, struct node *node, const struct node *load_map,
                       struct settings *settings, uint16_t index)
{
    struct load_settings *load = &settings->loads[index];
    struct floor_settings *floor = &load->floor[load->floor_count++];
    const struct target targets[] = {{&rules_floor_rows, floor}};
    int before = reader->troubles->count;
    read_section(reader, "a floor", node, targets, 1, NULL);
    if (node->kind != NODE_MAP)
        return;
    if (!is_misread(node, "measure"))
        read_amount(reader, node, floor);
    if (reader->troubles->count == before && kind_known(load_map, &rules_load_rows))
        check_floor(reader, node, load_map, settings, index, floor);
}

static void read_floors(const struct reader *reader, const struct node *map,
                        struct settings *settings, uint16_t index)
{
    const struct node *floors = node_child(map, "floors");
    if (!floors || !want_kind(reader, floors, NODE_LIST, "a list of floors"))
        return;
    for (struct node *node = floors->first; node; node = node->next) {
        if (settings->loads[index].floor_count == RULES_FLOORS_MAX) {
            wrong_at(reader, node, "a load has at most %d floors", RULES_FLOORS_MAX);
            return;
        }
        read_floor(reader, node, map, settings, index);
    }
}

/* ---- the load ------------------------------------------------------------------------------- */

static void read_group(const struct reader *reader, const struct node *map,
                       struct settings *settings, struct load_settings *load)
{
    const struct node *node = node_child(map, "group");
    const char *names[RULES_GROUPS_MAX];
    load->group = RULES_NO_GROUP;
    if (!node || !want_kind(reader, node, NODE_TEXT, "the name of a group"))
        return;
    for (uint8_t k = 0; k < settings->rules.group_count; k++) {
        names[k] = settings->rules.group[k].name;
        if (strcmp(names[k], node->text) == 0)
            load->group = k;
    }
    if (load->group == RULES_NO_GROUP)
        wrong_at(reader, node, "group: there is no group \"%s\"%s", QUOTED(node->text),
                 HINT(node->text, names, settings->rules.group_count));
}

static void check_phases(const struct reader *reader, const struct node *map,
                         const struct rules_settings *rules, const struct load_settings *load,
                         const char *name)
{
    const struct node *phases = node_child(map, "phases");
    if (rules->phase_count == 0)
        return;
    if (rules->phase_count > 1 && is_missing(map, "phases"))
        wrong_at_key(reader, map, "load %s needs phases: those that it is wired to", name);
    else if (phases && load->phases >> rules->phase_count)
        wrong_at(reader, phases, "phases: the site has only %u", rules->phase_count);
}

static void check_limit(const struct reader *reader, const struct node *map,
                        const struct rules_settings *rules, const struct load_settings *load,
                        int32_t limit_ma, const char *whose)
{
    const char *key = kind_of(load)->start_key;
    const struct node *node = node_child(map, key);
    int64_t current_ma = (int64_t)load_start_w(load, NULL) * 1000000 / rules->voltage_mv /
                         (phases_count(load->phases) ? phases_count(load->phases) : 1);
    char buffer[48];
    struct text text = text_in(buffer, sizeof(buffer));
    if (!node || limit_ma <= 0 || current_ma <= limit_ma)
        return;
    quantity_write(QUANTITY_CURRENT_MA, limit_ma, &text);
    wrong_at(reader, node, "%s: alone this exceeds the %s of %s: it could never start", key, whose,
             buffer);
}

static void check_load(const struct reader *reader, const struct node *map,
                       const struct settings *settings, uint16_t index, bool sizes_known)
{
    const struct load_settings *load = &settings->loads[index];
    const struct rules_settings *rules = &settings->rules;
    const struct node *heat_up = node_child(map, "heat_up");
    check_phases(reader, map, rules, load, settings->names[index].name);
    if (sizes_known)
        check_limit(reader, map, rules, load, rules->supply_limit_ma, "supply limit");
    if (sizes_known && load->group != RULES_NO_GROUP)
        check_limit(reader, map, rules, load, rules->group[load->group].limit_ma, "group's limit");
    if (heat_up && load->heat_up_ms > 0 && !load->thermostat && !is_misread(map, "thermostat"))
        wrong_at_key(reader, heat_up, "heat_up needs thermostat: yes, which shows when it is hot");
    if (!load->uses_spare && !is_misread(map, "uses_spare") && node_child(map, "start_fraction"))
        wrong_at_key(reader, node_child(map, "start_fraction"),
                     "start_fraction goes only with uses_spare: yes");
}

static void read_water(const struct reader *reader, const struct node *map,
                       struct load_settings *load)
{
    struct node *water = node_child(map, "water");
    const struct target targets[] = {{&heat_rows, &load->water}};
    if (!water)
        return;
    int before = reader->troubles->count;
    read_section(reader, "water", water, targets, 1, NULL);
    bool read = reader->troubles->count == before;
    if (!load->thermostat && !is_misread(map, "thermostat"))
        wrong_at_key(reader, water, "water needs thermostat: yes, which shows when it is hot");
    if (!read)
        return; /* what could not be read is not compared */
    if (load->water.loss_mwh == 0)
        load->water.loss_mwh = heat_usual_loss_mwh(load->water.volume_ml);
    if (load->water.set_mc <= load->water.cold_mc || load->water.set_mc <= load->water.room_mc)
        wrong_at_key(reader, water, "water: set is not above the cold water and the room");
    else if (load->water.set_mc - load->water.hysteresis_mc <= load->water.cold_mc)
        wrong_at_key(reader, water, "water: the hysteresis reaches down to the cold water");
}

/* What learning needs, said at its own place. */
static void check_learnt(const struct reader *reader, const struct node *map,
                         const struct rules_settings *rules, const struct load_settings *load)
{
    const struct node *start = node_child(map, "start_fraction");
    if (!start || load->start_permille != RULES_START_LEARNT)
        return;
    if (is_missing(map, "water"))
        wrong_at(reader, start, "start_fraction: learnt needs the section water: what is heated");
    if (rules->tariff.count == 0)
        wrong_at(reader, start, "start_fraction: learnt needs the section tariff with its prices");
    if (!kind_of(load)->shows_step && !load->metered)
        wrong_at(reader, start,
                 "start_fraction: learnt goes with a switched load, or one with a meter of its own "
                 "(role: load): else its thermostat cannot be seen to open");
}

/* What is written stands, of a motor too. */
static void calm_motor(const struct node *map, struct load_settings *load)
{
    for (const struct motor_default *own = rules_motor_defaults; load->motor && own->key; own++)
        if (!node_child(map, own->key))
            memcpy((char *)load + own->offset, &own->ms, sizeof(own->ms));
}

/* By itself it runs only while its supply has power: so the engine plans by both. */
static void stay_within_supply(const struct reader *reader, const struct node *map,
                               struct load_settings *load)
{
    const struct node *node = node_child(map, "supply_hours");
    struct hours both;
    if (!node || load->supply_hours.count == 0)
        return;
    if (!hours_both(&load->hours, &load->supply_hours, &both))
        wrong_at(reader, node, "supply_hours: together with hours these are more than %d spans",
                 HOURS_SPANS_MAX);
    else if (both.count == 0)
        wrong_at(reader, node, "supply_hours: never hold within its hours: it could never run");
    else
        load->hours = both;
}

void load_read(const struct reader *reader, struct node *map, struct settings *settings,
               uint16_t index)
{
    static const char *const others[] = {"output", "floors", "water", NULL};
    struct load_settings *load = &settings->loads[index];
    struct load_names *names = &settings->names[index];
    const struct target targets[] = {{&name_rows, names}, {&rules_load_rows, load}};
    read_section(reader, names->name, map, targets, 2, others);
    if (map->kind != NODE_MAP)
        return;
    calm_motor(map, load);
    stay_within_supply(reader, map, load);
    if (names->title[0] == '\0')
        memcpy(names->title, names->name, sizeof(names->name));
    if (load->phases == 0)
        load->phases = 1; /* was wrong; its powers are read all the same */
    int64_t w_per_ka = (int64_t)settings->rules.voltage_mv * phases_count(load->phases);
    bool known = kind_known(map, &rules_load_rows);
    int before = reader->troubles->count;
    if (known)
        read_sizes(reader, map, names->name, load, w_per_ka);
    bool sizes_known = reader->troubles->count == before;
    read_group(reader, map, settings, load);
    output_read(reader, map, settings, index);
    read_floors(reader, map, settings, index);
    read_water(reader, map, load);
    check_learnt(reader, map, &settings->rules, load);
    if (known)
        check_load(reader, map, settings, index, sizes_known);
    load_check_sense(reader, map, load);
}
