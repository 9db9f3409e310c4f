/* output_section.c - the output of a load, and whether it suits the load.
 *
 * Some mistakes here would only show when something switches: a set-point on a
 * contactor, two loads on one coil, a fail state that leaves a pump running. They are
 * mistakes of the file, and said as such. */
#include "output_section.h"

#include <string.h>

#include "sense.h"

enum { CHARGER_LEAST_MA = 6000 }; /* IEC 61851-1: with less a charger pauses */

static bool on_bus(const struct output_settings *output)
{
    return output->kind == OUTPUT_COIL || output->kind == OUTPUT_REGISTER;
}

/* ---- where it is -------------------------------------------------------------------------- */

int bus_find(const struct reader *reader, const struct node *node, const char *name,
             const struct settings *settings)
{
    const char *names[SETTINGS_BUSES_MAX];
    for (int k = 0; k < settings->bus_count; k++) {
        names[k] = settings->buses[k].name;
        if (strcmp(names[k], name) == 0)
            return k;
    }
    if (settings->bus_count > 0) /* else the section itself is wrong, which is said already */
        wrong_at(reader, node, "there is no bus \"%s\"%s", QUOTED(name),
                 HINT(name, names, settings->bus_count));
    return -1;
}

static bool read_address(const struct reader *reader, const struct node *node, uint16_t *address)
{
    int64_t value;
    struct trouble trouble;
    if (!want_kind(reader, node, NODE_TEXT, "an address"))
        return false;
    if (!quantity_parse(QUANTITY_COUNT, node->text, &value, &trouble) || value < 0 ||
        value > UINT16_MAX)
        return wrong_at(reader, node, "address: a whole number from 0 to 65535, not \"%s\"",
                        QUOTED(node->text));
    *address = (uint16_t)value;
    return true;
}

static void add_address(const struct reader *reader, const struct node *node,
                        struct output_settings *output)
{
    if (output->contactors == OUTPUT_CONTACTORS_MAX)
        wrong_at(reader, node, "address: an output has at most %d", OUTPUT_CONTACTORS_MAX);
    else if (read_address(reader, node, &output->address[output->contactors]))
        address_check_number(reader, node, output->kind == OUTPUT_COIL,
                             output->address[output->contactors++]);
}

static void read_addresses(const struct reader *reader, const struct node *map,
                           struct output_settings *output)
{
    const struct node *node = node_child(map, "address");
    if (is_missing(map, "address"))
        wrong_at_key(reader, map, "output needs address: the coil or register, from 0");
    if (!node)
        return;
    if (node->kind == NODE_LIST && !node->first)
        wrong_at(reader, node, "address: lists none");
    else if (node->kind == NODE_LIST)
        for (const struct node *item = node->first; item; item = item->next)
            add_address(reader, item, output);
    else
        add_address(reader, node, output);
}

static void read_place(const struct reader *reader, const struct node *map,
                       const struct settings *settings, struct output_settings *output)
{
    const struct node *bus = node_child(map, "bus");
    output->contactors = 0;
    if (is_missing(map, "bus"))
        wrong_at_key(reader, map, "output needs bus: one of those under buses");
    int index = bus && bus->kind == NODE_TEXT ? bus_find(reader, bus, output->bus, settings) : -1;
    output->bus_index = (uint8_t)(index < 0 ? 0 : index);
    if (index >= 0 && settings->buses[index].mode == BUS_LISTEN)
        wrong_at(reader, bus,
                 "bus %s is only listened to (mode: listen): nothing can be switched there",
                 output->bus);
    read_addresses(reader, map, output);
    if (index < 0)
        output->contactors = 0; /* nowhere: it is in nobody's place */
}

/* ---- whether it suits the load ------------------------------------------------------------ */

static void check_setpoint(const struct reader *reader, const struct node *map,
                           const struct load_settings *load, const struct output_settings *output)
{
    const struct node *fail_state = node_child(map, "fail_state");
    int64_t charger_least_w = (int64_t)CHARGER_LEAST_MA * output->watts_per_amp / MS_PER_S;
    if (output->kind == OUTPUT_COIL || output->kind == OUTPUT_LINE)
        wrong_at_key(reader, map,
                     "a set-point needs an output of kind register or topic: the supply of such a "
                     "load is never switched");
    else if (output->scale_w == 0 && output->scale_ma == 0)
        wrong_at_key(reader, map,
                     "a set-point needs count_power or count_current: what one count "
                     "means");
    else if (output->scale_w > 0 && output->scale_ma > 0)
        wrong_at_key(reader, map, "write count_power or count_current, not both");
    else if (output->scale_ma > 0 && load->least_w > 0 && load->least_w < charger_least_w)
        wrong_at_key(reader, map,
                     "a set-point in amps is at least 6 A (IEC 61851-1), but least is only %d W, "
                     "%d W an amp",
                     load->least_w, output->watts_per_amp);
    if (fail_state && output->fail_state == OUTPUT_FAIL_ON)
        wrong_at(reader, fail_state, "fail_state: a set-point falls to 0, it cannot fail to on");
}

static void check_contactors(const struct reader *reader, const struct node *map,
                             const struct load_settings *load, const struct output_settings *output)
{
    const struct node *address = node_child(map, "address");
    if (output->scale_w > 0 || output->scale_ma > 0)
        wrong_at_key(reader, map,
                     "count_power and count_current go only with loads of kind "
                     "setpoint");
    if (load->kind == LOAD_STAGED && !on_bus(output))
        wrong_at_key(reader, map, "a staged load needs an output of kind coil or register");
    else if (load->stages > 0 && address && load->stages != output->contactors)
        wrong_at(reader, address, "address: %u stages need as many addresses, not %u", load->stages,
                 output->contactors);
    else if (load->kind != LOAD_STAGED && output->contactors > 1)
        wrong_at(reader, address, "address: several go only with loads of kind staged");
    if (output->kind == OUTPUT_REGISTER && output->on_value == output->off_value)
        wrong_at_key(reader, map, "on_value and off_value are the same");
}

static void check_fail_state(const struct reader *reader, const struct node *map,
                             const struct load_settings *load, const struct output_settings *output,
                             bool thermostat_known)
{
    if (output->normally_closed && output->fail_state == OUTPUT_FAIL_OFF)
        wrong_at_key(reader, map,
                     "a load on the normally closed contact is on when the board is dead: write "
                     "fail_state: on, or wire it to the other contact");
    else if (output->fail_state == OUTPUT_FAIL_ON && !load->thermostat && thermostat_known)
        wrong_at_key(reader, map,
                     "fail_state: on is only for a load with thermostat: yes, which "
                     "stops by itself");
}

static bool is_topic(const char *topic)
{
    return topic[0] && topic[0] != '$' && !strpbrk(topic, "+#");
}

static void check_topic(const struct reader *reader, const struct node *map,
                        const struct settings *settings, const struct output_settings *output)
{
    if (!node_child(map, "topic"))
        wrong_at_key(reader, map, "output needs topic: where orders are published");
    else if (!is_topic(output->topic))
        wrong_at(reader, node_child(map, "topic"),
                 "topic: cannot be published to: no + or #, no $ at its beginning");
    if (output->state_topic[0] && !is_topic(output->state_topic))
        wrong_at(reader, node_child(map, "state_topic"),
                 "state_topic: one topic, without + or #, and no $ at its beginning");
    if (strcmp(output->on_payload, output->off_payload) == 0)
        wrong_at_key(reader, map, "on_payload and off_payload are the same");
    if (!settings->mqtt.enabled)
        wrong_at_key(reader, map, "an output of kind topic needs the section mqtt");
}

static void check_output(const struct reader *reader, const struct node *map,
                         const struct settings *settings, const struct load_settings *load,
                         const struct output_settings *output, bool thermostat_known)
{
    if (load->kind == LOAD_SETPOINT)
        check_setpoint(reader, map, load, output);
    else
        check_contactors(reader, map, load, output);
    if (load->kind != LOAD_SETPOINT)
        check_fail_state(reader, map, load, output, thermostat_known);
    if (output->kind == OUTPUT_TOPIC)
        check_topic(reader, map, settings, output);
    if (output->kind == OUTPUT_LINE && !node_child(map, "line"))
        wrong_at_key(reader, map, "output needs line: its offset on the chip");
}

static int32_t watts_per_amp(const struct settings *settings, uint8_t phases)
{
    int count = (phases & 1) + (phases >> 1 & 1) + (phases >> 2 & 1);
    return (int32_t)((int64_t)settings->rules.voltage_mv * count / 1000);
}

void output_read(const struct reader *reader, const struct node *load_map,
                 struct settings *settings, uint16_t index)
{
    struct node *map = node_child(load_map, "output");
    struct output_settings *output = &settings->outputs[index];
    const struct load_settings *load = &settings->loads[index];
    const struct target targets[] = {{&output_setting_rows, output}};
    int before = reader->troubles->count;
    if (is_missing(load_map, "output"))
        wrong_at_key(reader, load_map, "load %s needs output: what switches it",
                     settings->names[index].name);
    if (!map)
        return;
    read_section(reader, "output", map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return;
    output->watts_per_amp = watts_per_amp(settings, load->phases);
    bool known = kind_known(map, &output_setting_rows);
    output->contactors = known;
    if (known && on_bus(output))
        read_place(reader, map, settings, output);
    if (reader->troubles->count == before && kind_known(load_map, &rules_load_rows))
        check_output(reader, map, settings, load, output, !is_misread(load_map, "thermostat"));
}

/* ---- against each other --------------------------------------------------------------------- */

static bool shares_address(const struct output_settings *a, const struct output_settings *b)
{
    for (uint8_t i = 0; i < a->contactors; i++)
        for (uint8_t j = 0; j < b->contactors; j++)
            if (a->address[i] == b->address[j])
                return true;
    return false;
}

static bool same_place(const struct output_settings *a, const struct output_settings *b)
{
    if (a->kind != b->kind)
        return false;
    switch (a->kind) {
    case OUTPUT_LINE:
        return strcmp(a->chip, b->chip) == 0 && a->line == b->line;
    case OUTPUT_TOPIC:
        return a->topic[0] && strcmp(a->topic, b->topic) == 0;
    default:
        return a->bus_index == b->bus_index && a->unit == b->unit && shares_address(a, b);
    }
}

static bool repeats_itself(const struct output_settings *output)
{
    for (uint8_t i = 1; i < output->contactors; i++)
        for (uint8_t j = 0; j < i; j++)
            if (output->address[i] == output->address[j])
                return true;
    return false;
}

void outputs_check(const struct reader *reader, const struct node *loads,
                   const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        const struct node *map = node_child(loads, settings->names[i].name);
        const struct node *output = map && map->kind == NODE_MAP ? node_child(map, "output") : NULL;
        if (!output || output->kind != NODE_MAP)
            continue;
        if (repeats_itself(&settings->outputs[i]))
            wrong_at_key(reader, output, "the same address is there twice");
        for (uint16_t j = 0; j < i; j++)
            if (same_place(&settings->outputs[i], &settings->outputs[j]))
                wrong_at_key(reader, output, "loads %s and %s have the same output",
                             settings->names[j].name, settings->names[i].name);
    }
}
