/* lamp_section.c - the lamp: an output that is no load's. */
#include "lamp_section.h"

#include "input_section.h"
#include "output/backend.h"
#include "output_section.h"
#include "sections.h"

static void match_load(const struct reader *reader, const struct node *map,
                       struct settings *settings)
{
    const struct node *node = node_child(map, "load");
    struct lamp_settings *lamp = &settings->lamp;
    int found = node && lamp->load[0] ? load_find(reader, node, lamp->load, settings) : -1;
    lamp->load_index = found < 0 ? LOAD_ALL : (uint16_t)found;
}

static void check_output(const struct reader *reader, const struct node *map,
                         const struct settings *settings)
{
    const struct output_settings *output = &settings->lamp.output;
    if (backend_of(output)->on_broker)
        wrong_at_key(reader, map, "a lamp can't go over the broker: each blink is a message");
    else if (output->scale_w > 0 || output->scale_ma > 0)
        wrong_at_key(reader, map, "a lamp is on or off: without count_power and count_current");
    else if (output->contactors > 1)
        wrong_at_key(reader, map, "a lamp has one address");
    else if (output->normally_closed || output->fail_state == OUTPUT_FAIL_ON)
        wrong_at_key(reader, map,
                     "a lamp is off when nothing can decide: without normally_closed, and with "
                     "fail_state: off");
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (output_same_place(output, &settings->outputs[i]))
            wrong_at_key(reader, map, "the lamp and load %s have the same output",
                         settings->names[i].name);
}

void lamp_read(const struct reader *reader, struct node *root, struct settings *settings)
{
    struct node *map = node_child(root, "lamp");
    const struct target targets[] = {{&lamp_rows, &settings->lamp}};
    settings->lamp.enabled = map != NULL;
    if (!map || !want_section(reader, root, "lamp"))
        return;
    read_section(reader, "lamp", map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return;
    match_load(reader, map, settings);
    if (is_missing(map, "output"))
        wrong_at_key(reader, map, "lamp needs output: what lights it");
    struct node *output = node_child(map, "output");
    if (output && output_read_parts(reader, output, settings, &settings->lamp.output))
        check_output(reader, output, settings);
}
