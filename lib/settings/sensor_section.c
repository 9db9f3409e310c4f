/* sensor_section.c - the sensors in tanks, and whether each suits what it is about.
 *
 * A tank has one temperature here: two sensors of one load would contradict each other. */
#include "sensor_section.h"

#include <string.h>

#include "input_section.h"
#include "meter_section.h"

/* ---- where it is read ------------------------------------------------------------------------ */

/* What its kind says of it, and what only the whole house can. */
static void check_kind(const struct reader *reader, const struct node *map,
                       const struct settings *settings, const struct sensor_settings *sensor)
{
    struct section_place place = {reader, map};
    const struct node *topic = node_child(map, "topic");
    int before = reader->troubles->count;
    sensor_check(sensor, say_wrong, &place);
    if (topic && sensor->topic[0] && !settings->mqtt.enabled && reader->troubles->count == before)
        wrong_at_key(reader, topic, "topic needs a broker: write the section mqtt");
}

static bool same_place(const struct sensor_settings *a, const struct sensor_settings *b)
{
    return a->kind == b->kind && strcmp(a->file, b->file) == 0 && strcmp(a->topic, b->topic) == 0;
}

/* ---- one sensor -------------------------------------------------------------------------------
 */

static void read_sensor(const struct reader *reader, struct node *map, struct settings *settings,
                        int index, const void *context)
{
    struct sensor_settings *sensor = &settings->sensors[index];
    const struct target targets[] = {{&sensor_rows, sensor}};
    int before = reader->troubles->count;
    (void)context;
    settings->sensor_count = (uint8_t)(index + 1);
    strcpy(sensor->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if (map->kind != NODE_MAP || !kind_known(map, &sensor_rows))
        return;
    const char *what, *key = sensor_needs(sensor, &what);
    if (is_missing(map, key))
        wrong_at_key(reader, map, "sensor %s needs %s: %s", sensor->name, key, what);
    check_kind(reader, map, settings, sensor);
    for (int k = 0; k < index && reader->troubles->count == before; k++)
        if (same_place(sensor, &settings->sensors[k]))
            wrong_at_key(reader, map, "sensors %s and %s are read at the same place",
                         settings->sensors[k].name, sensor->name);
}

void sensors_read(const struct reader *reader, struct node *root, struct settings *settings)
{
    read_each(reader, root, "sensors", SETTINGS_SENSORS_MAX, settings, read_sensor, NULL);
}

/* ---- whose tank it is in ----------------------------------------------------------------------
 */

static bool find_load(const struct reader *reader, const struct node *node,
                      const struct settings *settings, struct sensor_settings *sensor)
{
    if (sensor->load[0]) {
        int found = load_find(reader, node_child(node, "load"), sensor->load, settings);
        sensor->load_index = (uint16_t)(found < 0 ? 0 : found);
        return found >= 0;
    }
    if (!find_the_tank(settings, &sensor->load_index))
        return wrong_at_key(reader, node,
                            "sensor %s needs load: several loads may have a tank, whose does it "
                            "read?",
                            sensor->name);
    strcpy(sensor->load, settings->names[sensor->load_index].name);
    return true;
}

static const char *other_of(const struct settings *settings, uint8_t index)
{
    uint16_t load = settings->sensors[index].load_index;
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == ROLE_TANK && settings->meters[k].load_index == load)
            return settings->meters[k].name;
    for (uint8_t k = 0; k < index; k++)
        if (settings->sensors[k].load_index == load)
            return settings->sensors[k].name;
    return NULL;
}

void sensors_match(const struct reader *reader, const struct node *root, struct settings *settings)
{
    const struct node *sensors = node_child(root, "sensors");
    if (reader->troubles->count > 0)
        return; /* a load that could not be read would be guessed at */
    for (uint8_t k = 0; k < settings->sensor_count; k++) {
        struct sensor_settings *sensor = &settings->sensors[k];
        const struct node *node = node_child(sensors, sensor->name);
        const char *other = NULL;
        if (find_load(reader, node, settings, sensor))
            other = other_of(settings, k);
        if (other)
            wrong_at_key(reader, node, "sensor %s reads the tank of %s, which %s does already",
                         sensor->name, sensor->load, other);
    }
}
