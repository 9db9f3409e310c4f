/* load_section.c - what rows alone cannot say of a load.
 *
 * A set-point may be written in watts or in amps; amps become watts by the site's
 * voltage and the load's phases. What a kind of load or output needs, and what makes
 * no sense for it, is checked here, at the place where it was written. */
#include "load_section.h"

#include <stdlib.h>
#include <string.h>

#include "sections.h"

enum { CHARGER_LEAST_MA = 6000 }; /* IEC 61851-1: below 6 A a charger pauses */

static uint8_t phase_count(uint8_t phases)
{
    return (uint8_t)((phases & 1) + ((phases >> 1) & 1) + ((phases >> 2) & 1));
}

/* A power, or a current that becomes one; `amps` tells which. */
static bool read_power(const struct reader *reader, const struct node *node, int64_t w_per_ka,
                       int32_t *power_w, bool *amps)
{
    struct trouble trouble, not_amps;
    int64_t value;
    if (!want_kind(reader, node, NODE_TEXT, "a power"))
        return false;
    *amps = false;
    if (!quantity_parse(QUANTITY_POWER_W, node->text, &value, &trouble)) {
        *amps = w_per_ka > 0 && quantity_parse(QUANTITY_CURRENT_MA, node->text, &value, &not_amps);
        if (!*amps) {
            trouble_at(reader->troubles, reader->file, node, "%s: %s", node->key ? node->key : "",
                       trouble.text);
            return false;
        }
        value = value * w_per_ka / 1000000;
    }
    if (value < 1 || value > 1000000) {
        trouble_at(reader->troubles, reader->file, node,
                   "a load's power is from 1 W to 1000 kW, not \"%.60s\"", node->text);
        return false;
    }
    *power_w = (int32_t)value;
    return true;
}

static bool need(const struct reader *reader, const struct node *map, const char *name,
                 const char *key, const char *why)
{
    if (node_child(map, key))
        return true;
    trouble_at_key(reader->troubles, reader->file, map, "load %s needs %s: %s", name, key, why);
    return false;
}

static void read_stages(const struct reader *reader, const struct node *map,
                        struct load_settings *load)
{
    const struct node *stages = node_child(map, "stages");
    bool amps;
    if (!stages || !want_kind(reader, stages, NODE_LIST, "a list of powers"))
        return;
    for (const struct node *stage = stages->first; stage; stage = stage->next) {
        if (load->stages == RULES_STAGES_MAX) {
            trouble_at(reader->troubles, reader->file, stage, "a load has at most %d stages",
                       RULES_STAGES_MAX);
            return;
        }
        if (!read_power(reader, stage, 0, &load->stage_w[load->stages], &amps))
            return;
        load->power_w += load->stage_w[load->stages++];
    }
    if (load->stages == 0)
        trouble_at(reader->troubles, reader->file, stages, "stages lists no power");
}

static void read_setpoint(const struct reader *reader, const struct node *map, const char *name,
                          struct load_settings *load, int64_t w_per_ka)
{
    bool amps = false, least_amps = false;
    const struct node *least = node_child(map, "least"), *step = node_child(map, "step");
    if (!need(reader, map, name, "least", "the least that its set-point may be, such as 6 A"))
        return;
    read_power(reader, least, w_per_ka, &load->least_w, &least_amps);
    if (least_amps && load->least_w < CHARGER_LEAST_MA * w_per_ka / 1000000)
        trouble_at(reader->troubles, reader->file, least,
                   "a set-point in amps is at least 6 A (IEC 61851-1): below it a charger pauses");
    load->step_w = least_amps ? (int32_t)(w_per_ka / 1000) : 1;
    if (step)
        read_power(reader, step, w_per_ka, &load->step_w, &amps);
    if (load->least_w > load->power_w)
        trouble_at(reader->troubles, reader->file, least, "least is more than power");
}

static void read_sizes(const struct reader *reader, const struct node *map, const char *name,
                       struct load_settings *load, int64_t w_per_ka)
{
    const struct node *power = node_child(map, "power");
    bool amps;
    load->step_w = 1;
    if (load->kind == LOAD_STAGED) {
        if (need(reader, map, name, "stages", "the power of each contactor"))
            read_stages(reader, map, load);
        return;
    }
    if (need(reader, map, name, "power", "its nameplate, such as 3.6 kW"))
        read_power(reader, power, load->kind == LOAD_SETPOINT ? w_per_ka : 0, &load->power_w,
                   &amps);
    if (load->kind == LOAD_SETPOINT)
        read_setpoint(reader, map, name, load, w_per_ka);
}

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
    const char *nearest = text_nearest(node->text, names, settings->rules.group_count);
    if (load->group == RULES_NO_GROUP)
        trouble_at(reader->troubles, reader->file, node, "there is no group \"%.40s\"%s%s%s",
                   node->text, nearest ? "; do you mean \"" : "", nearest ? nearest : "",
                   nearest ? "\"?" : "");
}

/* ---- floors --------------------------------------------------------------------------------- */

static void read_amount(const struct reader *reader, const struct node *map,
                        struct floor_settings *floor)
{
    const struct node *node = node_child(map, "amount");
    struct trouble trouble;
    if (!node) {
        trouble_at(reader->troubles, reader->file, map, "a floor needs amount: such as 3 h");
        return;
    }
    if (!want_kind(reader, node, NODE_TEXT, "an amount"))
        return;
    enum quantity_kind unit =
        floor->measure == FLOOR_ENERGY ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS;
    if (!quantity_parse(unit, node->text, &floor->amount, &trouble))
        trouble_at(reader->troubles, reader->file, node, "amount: %s", trouble.text);
    else if (floor->amount <= 0 || floor->amount > INT64_C(1000000000000))
        trouble_at(reader->troubles, reader->file, node, "amount: \"%.60s\" cannot be kept",
                   node->text);
}

static void check_floor(const struct reader *reader, const struct node *map,
                        const struct load_settings *load, const struct output_settings *output,
                        const struct floor_settings *floor)
{
    if (output->kind == OUTPUT_TOPIC)
        trouble_at(reader->troubles, reader->file, map,
                   "a floor must not depend on the broker: this load is switched over MQTT");
    if (floor->measure == FLOOR_SATISFIED && !load->thermostat)
        trouble_at(reader->troubles, reader->file, map,
                   "\"satisfied\" needs thermostat: yes, for only a thermostat can say it");
    if (floor->measure == FLOOR_TIME && (load->kind == LOAD_STAGED || load->kind == LOAD_SETPOINT))
        trouble_at(reader->troubles, reader->file, map,
                   "a floor of a staged or set-point load is measured as energy: time at which "
                   "power would say nothing");
    if (floor->measure == FLOOR_SATISFIED && load->kind != LOAD_SWITCHED && !load->metered)
        trouble_at(reader->troubles, reader->file, map,
                   "\"satisfied\" can only be seen of a switched load, or one with its own meter");
}

static void read_floors(const struct reader *reader, const struct node *map,
                        struct load_settings *load, const struct output_settings *output)
{
    static const char *const none[] = {NULL};
    const struct node *floors = node_child(map, "floors");
    if (!floors || !want_kind(reader, floors, NODE_LIST, "a list of floors"))
        return;
    for (struct node *node = floors->first; node; node = node->next) {
        if (load->floor_count == RULES_FLOORS_MAX) {
            trouble_at(reader->troubles, reader->file, node, "a load has at most %d floors",
                       RULES_FLOORS_MAX);
            return;
        }
        struct floor_settings *floor = &load->floor[load->floor_count++];
        const struct target targets[] = {{&rules_floor_rows, floor}};
        read_section(reader, "a floor", node, targets, 1, none);
        if (node->kind != NODE_MAP)
            continue;
        read_amount(reader, node, floor);
        check_floor(reader, node, load, output, floor);
    }
}

/* ---- the output --------------------------------------------------------------------------------
 */

static bool read_address(const struct reader *reader, const struct node *node, uint16_t *address)
{
    int64_t value;
    struct trouble trouble;
    if (!want_kind(reader, node, NODE_TEXT, "an address"))
        return false;
    if (quantity_parse(QUANTITY_COUNT, node->text, &value, &trouble) && value >= 0 &&
        value <= 0xffff) {
        *address = (uint16_t)value;
        return true;
    }
    trouble_at(reader->troubles, reader->file, node,
               "an address is a whole number from 0 to 65535, not \"%.60s\"", node->text);
    return false;
}

static void read_addresses(const struct reader *reader, const struct node *map,
                           struct output_settings *output)
{
    const struct node *node = node_child(map, "address");
    if (!node) {
        trouble_at_key(reader->troubles, reader->file, map, "the output needs address");
        return;
    }
    if (node->kind == NODE_TEXT) {
        output->contactors = read_address(reader, node, &output->address[0]) ? 1 : 0;
        return;
    }
    for (const struct node *item = node->first; item; item = item->next) {
        if (output->contactors == OUTPUT_CONTACTORS_MAX) {
            trouble_at(reader->troubles, reader->file, item, "an output has at most %d addresses",
                       OUTPUT_CONTACTORS_MAX);
            return;
        }
        if (!read_address(reader, item, &output->address[output->contactors]))
            return;
        output->contactors++;
    }
}

static void find_bus(const struct reader *reader, const struct node *map,
                     const struct settings *settings, struct output_settings *output)
{
    const struct node *node = node_child(map, "bus");
    for (uint8_t k = 0; k < settings->bus_count; k++)
        if (strcmp(settings->buses[k].name, output->bus) == 0) {
            output->bus_index = k;
            return;
        }
    if (node)
        trouble_at(reader->troubles, reader->file, node, "there is no bus \"%.31s\"", output->bus);
    else
        trouble_at_key(reader->troubles, reader->file, map, "the output needs bus");
}

static void check_output(const struct reader *reader, const struct node *map,
                         const struct load_settings *load, const struct output_settings *output)
{
    bool on_bus = output->kind == OUTPUT_COIL || output->kind == OUTPUT_REGISTER;
    bool scaled = output->scale_w > 0 || output->scale_ma > 0;
    if (load->kind == LOAD_SETPOINT && (output->kind == OUTPUT_COIL || output->kind == OUTPUT_LINE))
        trouble_at_key(reader->troubles, reader->file, map,
                       "a set-point needs an output of kind register or topic: a contactor must "
                       "never switch such a load's supply");
    if (load->kind == LOAD_SETPOINT && !scaled &&
        (output->kind == OUTPUT_REGISTER || output->kind == OUTPUT_TOPIC))
        trouble_at_key(reader->troubles, reader->file, map,
                       "a set-point needs count_power or count_current: what one count means");
    if (load->kind != LOAD_SETPOINT && scaled)
        trouble_at_key(reader->troubles, reader->file, map,
                       "count_power and count_current are for set-point loads");
    if (load->kind == LOAD_STAGED && on_bus && output->contactors != load->stages)
        trouble_at_key(reader->troubles, reader->file, map,
                       "%u stages need as many addresses, not %u", load->stages,
                       output->contactors);
    if (load->kind == LOAD_STAGED && !on_bus)
        trouble_at_key(reader->troubles, reader->file, map,
                       "a staged load needs an output of kind coil or register");
    if (output->kind == OUTPUT_TOPIC && output->topic[0] == '\0')
        trouble_at_key(reader->troubles, reader->file, map, "the output needs topic");
    if (strpbrk(output->topic, "+#"))
        trouble_at_key(reader->troubles, reader->file, map, "a topic to publish has no + or #");
    if (output->normally_closed && output->fail_state == OUTPUT_FAIL_OFF)
        trouble_at_key(reader->troubles, reader->file, map,
                       "a load on the normally closed contact is on when the board is dead: "
                       "write fail_state: on, or wire it to the other contact");
}

static void read_output(const struct reader *reader, const struct node *map,
                        struct settings *settings, uint16_t index)
{
    struct node *node = node_child(map, "output");
    struct output_settings *output = &settings->outputs[index];
    const struct load_settings *load = &settings->loads[index];
    const struct target targets[] = {{&output_setting_rows, output}};
    if (!node) {
        trouble_at_key(reader->troubles, reader->file, map,
                       "load %s needs output: what switches it", settings->names[index].name);
        return;
    }
    read_section(reader, "output", node, targets, 1, NULL);
    if (node->kind != NODE_MAP)
        return;
    output->watts_per_amp =
        (int32_t)((int64_t)settings->rules.voltage_mv * phase_count(load->phases) / 1000);
    if (output->kind == OUTPUT_COIL || output->kind == OUTPUT_REGISTER) {
        find_bus(reader, node, settings, output);
        read_addresses(reader, node, output);
    } else {
        output->contactors = 1;
    }
    check_output(reader, node, load, output);
}

static void check_load(const struct reader *reader, const struct node *map,
                       const struct settings *settings, uint16_t index)
{
    const struct load_settings *load = &settings->loads[index];
    const struct rules_settings *rules = &settings->rules;
    if (load->phases >> rules->phase_count)
        trouble_at_key(reader->troubles, reader->file, map,
                       "load %s is on a phase that the site does not have",
                       settings->names[index].name);
    int64_t amps_ma =
        phase_count(load->phases)
            ? (int64_t)load->power_w / phase_count(load->phases) * 1000000 / rules->voltage_mv
            : 0;
    if (load->kind != LOAD_SETPOINT && rules->supply_limit_ma > 0 &&
        amps_ma > rules->supply_limit_ma)
        trouble_at_key(reader->troubles, reader->file, map,
                       "load %s alone would pass the supply limit: it could never start",
                       settings->names[index].name);
}

void load_read(const struct reader *reader, struct node *map, struct settings *settings,
               uint16_t index)
{
    static const char *const others[] = {"output", "floors", NULL};
    struct load_settings *load = &settings->loads[index];
    struct load_names *names = &settings->names[index];
    const struct target targets[] = {{&name_rows, names}, {&rules_load_rows, load}};
    read_section(reader, names->name, map, targets, 2, others);
    if (map->kind != NODE_MAP)
        return;
    if (names->title[0] == '\0')
        memcpy(names->title, names->name, sizeof(names->name));
    int64_t w_per_ka = (int64_t)settings->rules.voltage_mv * phase_count(load->phases);
    read_sizes(reader, map, names->name, load, w_per_ka);
    read_group(reader, map, settings, load);
    read_output(reader, map, settings, index);
    read_floors(reader, map, load, &settings->outputs[index]);
    check_load(reader, map, settings, index);
}
