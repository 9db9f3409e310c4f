/* input_section.c - the inputs, and whether each suits what it is about.
 *
 * A contact that is wired to a relay's own coil shows what was ordered and not what happened;
 * two inputs that say the same of one load may contradict each other. Both are mistakes of the
 * file. */
#include "input_section.h"

#include <string.h>

#include "output/backend.h"
#include "output_section.h"

/* ---- whose it is ---------------------------------------------------------------------------- */

int load_find(const struct reader *reader, const struct node *node, const char *name,
              const struct settings *settings)
{
    const char *names[SETTINGS_LOADS_MAX];
    uint16_t count = settings->rules.load_count;
    for (uint16_t i = 0; i < count; i++) {
        names[i] = settings->names[i].name;
        if (strcmp(names[i], name) == 0)
            return i;
    }
    if (count > 0) /* else the section itself is wrong, which is said already */
        wrong_at(reader, node, "load: there is no load \"%s\"%s", QUOTED(name),
                 HINT(name, names, count));
    return -1;
}

static void match_load(const struct reader *reader, const struct node *map,
                       const struct settings *settings, struct input_settings *input)
{
    const struct node *node = node_child(map, "load");
    input->load_index = INPUT_ALL_LOADS;
    int found = node && input->load[0] ? load_find(reader, node, input->load, settings) : -1;
    if (found >= 0)
        input->load_index = (uint16_t)found;
    if (is_missing(map, "load") && input->role != INPUT_INHIBIT && !is_misread(map, "role"))
        wrong_at_key(reader, map, "input %s needs load: the load that it is about", input->name);
}

/* A button may be beside another, and several things may inhibit. */
static bool may_repeat(uint8_t role)
{
    return role == INPUT_BUTTON || role == INPUT_INHIBIT;
}

/* ---- where it is ---------------------------------------------------------------------------- */

static void match_bus(const struct reader *reader, const struct node *map,
                      const struct settings *settings, struct input_settings *input)
{
    const struct node *bus = node_child(map, "bus");
    if (is_missing(map, "bus"))
        wrong_at_key(reader, map, "input %s needs bus: one of those under buses", input->name);
    int index = bus && bus->kind == NODE_TEXT ? bus_find(reader, bus, input->bus, settings) : -1;
    input->bus_index = (uint8_t)(index < 0 ? 0 : index);
    if (index >= 0 && settings->buses[index].mode == BUS_LISTEN)
        wrong_at(reader, bus,
                 "bus %s is only listened to (mode: listen): nothing can be read there",
                 input->bus);
}

/* The relay that the output itself switches. */
static bool reads_output(const struct input_settings *input, const struct output_settings *output)
{
    const struct backend *backend = backend_of(output);
    if (input->kind != INPUT_MODBUS || input->table != INPUT_COIL || !backend->coils ||
        strcmp(input->bus, output->bus) != 0 || input->unit != output->unit)
        return false;
    for (uint8_t k = 0; k < output->contactors; k++)
        if (output->address[k] == input->address)
            return true;
    return false;
}

static void check_place(const struct reader *reader, const struct node *map,
                        const struct settings *settings, const struct input_settings *input)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (reads_output(input, &settings->outputs[i]))
            wrong_at_key(reader, map,
                         "input %s reads the coil that switches %s: that shows what was ordered, "
                         "not what is; wire an input to what it should sense",
                         input->name, settings->names[i].name);
}

/* A line belongs to one. */
static bool same_line(const struct input_settings *a, const struct input_settings *b)
{
    return a->kind == INPUT_LINE && b->kind == INPUT_LINE && a->line == b->line &&
           strcmp(a->chip, b->chip) == 0;
}

static void check_others(const struct reader *reader, const struct node *map,
                         const struct settings *settings, int index)
{
    const struct input_settings *input = &settings->inputs[index];
    for (int k = 0; k < index; k++) {
        const struct input_settings *other = &settings->inputs[k];
        if (same_line(input, other))
            wrong_at_key(reader, map, "inputs %s and %s have the same line", other->name,
                         input->name);
        if (input->role == other->role && !may_repeat(input->role) &&
            input->load_index == other->load_index && input->load_index != INPUT_ALL_LOADS)
            wrong_at_key(reader, map, "inputs %s and %s are both the %s of load %s", other->name,
                         input->name, input_role_word(input->role), input->load);
    }
}

/* ---- one input ------------------------------------------------------------------------------ */

static void read_input(const struct reader *reader, struct node *map, struct settings *settings,
                       int index, const void *context)
{
    struct input_settings *input = &settings->inputs[index];
    const struct target targets[] = {{&input_role_rows, input}, {&input_source_rows, input}};
    int before = reader->troubles->count;
    (void)context;
    settings->input_count = (uint8_t)(index + 1);
    strcpy(input->name, map->key);
    read_section(reader, map->key, map, targets, 2, NULL);
    if (map->kind != NODE_MAP)
        return;
    match_load(reader, map, settings, input);
    if (!kind_known(map, &input_source_rows))
        return;
    const char *what, *key = input_needs(input, &what);
    if (is_missing(map, key))
        wrong_at_key(reader, map, "input %s needs %s: %s", input->name, key, what);
    if (input_is_on_bus(input))
        match_bus(reader, map, settings, input);
    if (reader->troubles->count > before)
        return;
    check_place(reader, map, settings, input);
    check_others(reader, map, settings, index);
}

void inputs_read(const struct reader *reader, struct node *root, struct settings *settings)
{
    read_each(reader, root, "inputs", SETTINGS_INPUTS_MAX, settings, read_input, NULL);
}
