/* output_section.c - the output of a load, and whether it suits the load.
 *
 * Some mistakes here would only show when something switches: a set-point on a
 * contactor, two loads on one coil, a fail state that leaves a pump running. They are
 * mistakes of the file, and said as such. */
#include "output_section.h"

#include <string.h>

#include "output/backend.h"
#include "rules/kind.h"
#include "sense.h"

enum { CHARGER_LEAST_MA = 6000 }; /* IEC 61851-1: with less a charger pauses */

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
        address_check_number(reader, node, backend_of(output)->coils,
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

static bool carries_amounts(const struct backend *backend)
{
    return backend->amounts;
}

static bool is_on_bus(const struct backend *backend)
{
    return backend->on_bus;
}

/* "register or topic": the kinds for which `which` holds. */
static const char *kinds_write(bool (*which)(const struct backend *backend), struct text text)
{
    uint32_t mask = 0;
    for (uint8_t kind = 0; backend_at(kind); kind++)
        mask |= which(backend_at(kind)) ? 1u << kind : 0;
    choices_write(&output_setting_rows.row[0], mask, &text);
    return text.at;
}

#define KINDS(which) kinds_write(which, text_in((char[96]){0}, 96))

static void check_setpoint(const struct reader *reader, const struct node *map,
                           const struct load_settings *load, const struct output_settings *output)
{
    const struct node *fail_state = node_child(map, "fail_state");
    int64_t charger_least_w = (int64_t)CHARGER_LEAST_MA * output->watts_per_amp / MS_PER_S;
    if (!backend_of(output)->amounts)
        wrong_at_key(reader, map,
                     "a set-point needs an output of kind %s: the supply of such a load is never "
                     "switched",
                     KINDS(carries_amounts));
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
    if (kind_of(load)->has_stages && !backend_of(output)->on_bus)
        wrong_at_key(reader, map, "a staged load needs an output of kind %s", KINDS(is_on_bus));
    else if (load->stages > 0 && address && load->stages != output->contactors)
        wrong_at(reader, address, "address: %u stages need as many addresses, not %u", load->stages,
                 output->contactors);
    else if (!kind_of(load)->has_stages && output->contactors > 1)
        wrong_at(reader, address, "address: several go only with loads of kind staged");
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

/* What its kind says of it. */
static void check_kind(const struct reader *reader, const struct node *map,
                       const struct settings *settings, const struct output_settings *output)
{
    const struct backend *backend = backend_of(output);
    struct section_place place = {reader, map};
    if (backend->needs && !node_child(map, backend->needs))
        wrong_at_key(reader, map, "output needs %s: %s", backend->needs, backend->needs_text);
    else if (backend->check)
        backend->check(output, say_wrong, &place);
    if (backend->on_broker && !settings->mqtt.enabled)
        wrong_at_key(reader, map, "an output of kind %s needs the section mqtt", backend->word);
}

static void check_output(const struct reader *reader, const struct node *map,
                         const struct load_settings *load, const struct output_settings *output,
                         bool thermostat_known)
{
    if (kind_of(load)->follows)
        check_setpoint(reader, map, load, output);
    else
        check_contactors(reader, map, load, output);
    if (!kind_of(load)->follows)
        check_fail_state(reader, map, load, output, thermostat_known);
}

static int32_t watts_per_amp(const struct settings *settings, uint8_t phases)
{
    return (int32_t)((int64_t)settings->rules.voltage_mv * phases_count(phases) / 1000);
}

bool output_read_parts(const struct reader *reader, struct node *map,
                       const struct settings *settings, struct output_settings *output)
{
    const struct target targets[] = {{&output_setting_rows, output}};
    int before = reader->troubles->count;
    read_section(reader, "output", map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return false;
    bool known = kind_known(map, &output_setting_rows);
    output->contactors = known;
    if (known && backend_of(output)->on_bus)
        read_place(reader, map, settings, output);
    if (reader->troubles->count == before)
        check_kind(reader, map, settings, output);
    return reader->troubles->count == before;
}

void output_read(const struct reader *reader, const struct node *load_map,
                 struct settings *settings, uint16_t index)
{
    struct node *map = node_child(load_map, "output");
    struct output_settings *output = &settings->outputs[index];
    const struct load_settings *load = &settings->loads[index];
    if (is_missing(load_map, "output"))
        wrong_at_key(reader, load_map, "load %s needs output: what switches it",
                     settings->names[index].name);
    if (!map)
        return;
    output->watts_per_amp = watts_per_amp(settings, load->phases);
    if (output_read_parts(reader, map, settings, output) && kind_known(load_map, &rules_load_rows))
        check_output(reader, map, load, output, !is_misread(load_map, "thermostat"));
}

/* ---- against each other --------------------------------------------------------------------- */

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
            if (output_same_place(&settings->outputs[i], &settings->outputs[j]))
                wrong_at_key(reader, output, "loads %s and %s have the same output",
                             settings->names[j].name, settings->names[i].name);
    }
}
