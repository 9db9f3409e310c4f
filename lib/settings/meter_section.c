/* meter_section.c - what rows alone cannot say of buses and meters.
 *
 * One device file or peer is one bus: two would talk into each other's answers. What
 * a meter measures must fit what the site says it has. */
#include "meter_section.h"

#include <errno.h>
#include <string.h>
#include <unistd.h>

#include "map_file.h"
#include "maps.h"
#include "output_section.h"
#include "sections.h"
#include "sense.h"

/* ---- buses ---------------------------------------------------------------------------------- */

static void check_only_with(const struct reader *reader, const struct node *map, const char *with,
                            const char *const keys[])
{
    for (int k = 0; keys[k]; k++) {
        const struct node *node = node_child(map, keys[k]);
        if (node)
            wrong_at_key(reader, node, "%s goes only with %s", keys[k], with);
    }
}

static void check_line(const struct reader *reader, const struct node *map,
                       const struct bus_settings *bus)
{
    static const char *const serial[] = {"mode", "baud", "parity", "stop_bits", NULL};
    static const char *const tcp[] = {"tcp_port", NULL};
    bool port = bus->port[0] != '\0', host = bus->host[0] != '\0';
    if (port == host)
        wrong_at_key(reader, map, "bus %s needs %s port (serial) or host (Modbus TCP)%s", bus->name,
                     port ? "one of" : "either", port ? ", not both" : "");
    else if (port)
        check_only_with(reader, map, "host", tcp);
    else
        check_only_with(reader, map, "port", serial);
}

static bool same_line(const struct bus_settings *a, const struct bus_settings *b)
{
    return a->port[0] ? strcmp(a->port, b->port) == 0
                      : a->host[0] && strcmp(a->host, b->host) == 0 && a->tcp_port == b->tcp_port;
}

static void read_bus(const struct reader *reader, struct node *map, struct settings *settings,
                     int index, const void *context)
{
    struct bus_settings *bus = &settings->buses[index];
    const struct target targets[] = {{&bus_setting_rows, bus}};
    int before = reader->troubles->count;
    (void)context;
    settings->bus_count = (uint8_t)(index + 1);
    strcpy(bus->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if (map->kind != NODE_MAP || reader->troubles->count > before)
        return;
    check_line(reader, map, bus);
    if (bus->host[0])
        host_check(reader, node_child(map, "host"), bus->host, "tcp_port");
    if (bus->port[0])
        port_check_path(reader, node_child(map, "port"), bus->port);
    for (int k = 0; k < index; k++)
        if (same_line(bus, &settings->buses[k]))
            wrong_at_key(reader, map, "bus %s is the same line as %s: all its units belong to one",
                         bus->name, settings->buses[k].name);
}

void buses_read(const struct reader *reader, struct node *root, struct settings *settings)
{
    want_section(reader, root, "buses");
    read_each(reader, root, "buses", SETTINGS_BUSES_MAX, settings, read_bus, NULL);
}

/* ---- meters --------------------------------------------------------------------------------- */

static void map_missing(const struct reader *reader, const struct node *node, const char *name,
                        const char *maps_dir)
{
    char buffer[TROUBLE_TEXT_MAX / 2];
    struct text hint = text_in(buffer, sizeof(buffer));
    maps_hint(name, maps_dir, &hint);
    wrong_at(reader, node, "map: there is no %s.yaml in %.100s%s", name, maps_dir, buffer);
}

static void read_map(const struct reader *reader, const struct node *node,
                     struct meter_settings *meter, const char *maps_dir)
{
    char path[512];
    meter->sunspec = strcmp(meter->map_name, "sunspec") == 0;
    if (meter->sunspec)
        return;
    snprintf(path, sizeof(path), "%s/%s.yaml", maps_dir, meter->map_name);
    if (!is_name(meter->map_name))
        wrong_at(reader, node,
                 "map: \"%s\" is not a map; write sunspec, or the name of a file in %.100s without "
                 ".yaml",
                 QUOTED(meter->map_name), maps_dir);
    else if (access(path, R_OK) == 0)
        map_read(path, &meter->map, &meter->map_source, reader->troubles);
    else if (errno == ENOENT)
        map_missing(reader, node, meter->map_name, maps_dir);
    else
        wrong_at(reader, node, "map: %.150s cannot be read: %s", path, strerror(errno));
}

/* The index that the load of that name will have; -1, and said: there is none. */
static int find_load(const struct reader *reader, const struct node *root, const struct node *node,
                     const char *name)
{
    const struct node *loads = node_child(root, "loads");
    const char *names[SETTINGS_LOADS_MAX];
    uint16_t count = 0;
    const struct node *load = loads && loads->kind == NODE_MAP ? loads->first : NULL;
    for (; load && count < SETTINGS_LOADS_MAX; load = load->next) {
        if (strcmp(load->key, name) == 0)
            return count;
        names[count++] = load->key;
    }
    if (count > 0) /* else the section itself is wrong, which is said already */
        wrong_at(reader, node, "load: there is no load \"%s\"%s", QUOTED(name),
                 HINT(name, names, count));
    return -1;
}

/* A tank's load may be left out: tanks_match sees to it once the loads are read. */
static void match_load(const struct reader *reader, const struct node *root, const struct node *map,
                       struct settings *settings, struct meter_settings *meter)
{
    const struct node *node = node_child(map, "load");
    if (meter->role == ROLE_LOAD && is_missing(map, "load"))
        wrong_at_key(reader, map, "meter %s needs load: the load that it measures", meter->name);
    int index = node ? find_load(reader, root, node, meter->load) : -1;
    if (index < 0)
        return;
    meter->load_index = (uint16_t)index;
    if (meter->role != ROLE_LOAD)
        return;
    if (settings->loads[index].metered)
        wrong_at(reader, node, "load: %s has a meter already", meter->load);
    settings->loads[index].metered = true;
}

struct meter_context {
    const char *maps_dir;
    const struct node *root;
};

static void read_meter(const struct reader *reader, struct node *map, struct settings *settings,
                       int index, const void *context)
{
    const struct meter_context *with = context;
    struct meter_settings *meter = &settings->meters[index];
    const struct target targets[] = {{&meter_rows, meter}};
    settings->meter_count = (uint8_t)(index + 1);
    strcpy(meter->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return;
    if (meter->map_name[0])
        read_map(reader, node_child(map, "map"), meter, with->maps_dir);
    if (meter->map.point_count > 0 && !is_misread(map, "role"))
        map_check_role(reader, node_child(map, "map"), meter, settings->rules.phase_count);
    const struct node *bus = node_child(map, "bus");
    int bus_index = meter->bus[0] ? bus_find(reader, bus, meter->bus, settings) : -1;
    meter->bus_index = (uint8_t)(bus_index < 0 ? 0 : bus_index);
    if (meter->sunspec && bus_index >= 0 && settings->buses[bus_index].mode == BUS_LISTEN)
        wrong_at(reader, node_child(map, "map"),
                 "map: sunspec is found by asking, and bus %s is only listened to; write a map of "
                 "the registers that the other master reads (sluice bus listen shows them)",
                 meter->bus);
    if (meter->role == ROLE_LOAD || meter->role == ROLE_TANK)
        match_load(reader, with->root, map, settings, meter);
}

static int count_role(const struct settings *settings, enum meter_role role)
{
    int count = 0;
    for (uint8_t k = 0; k < settings->meter_count; k++)
        count += settings->meters[k].role == role;
    return count;
}

static void check_roles(const struct reader *reader, const struct node *root,
                        const struct settings *settings)
{
    const struct node *meters = node_child(root, "meters"), *site = node_child(root, "site");
    const struct node *battery =
        site && site->kind == NODE_MAP ? node_child(site, "battery") : NULL;
    int grids = count_role(settings, ROLE_GRID), batteries = count_role(settings, ROLE_BATTERY);
    if (grids != 1)
        wrong_at_key(reader, meters, "exactly one meter has the role grid, not %d", grids);
    if (batteries > 1)
        wrong_at_key(reader, meters, "at most one meter has the role battery, not %d", batteries);
    else if (settings->rules.battery && batteries == 0)
        wrong_at(reader, battery,
                 "battery: yes needs a meter of role battery; unread, it would "
                 "hide what is spare");
    else if (!settings->rules.battery && batteries == 1 && !is_misread(site, "battery"))
        wrong_at_key(reader, meters, "a meter of role battery needs battery: yes under site");
}

void meters_read(const struct reader *reader, struct node *root, struct settings *settings,
                 const char *maps_dir)
{
    const struct node *meters = node_child(root, "meters");
    const struct meter_context context = {maps_dir, root};
    int before = reader->troubles->count;
    want_section(reader, root, "meters");
    read_each(reader, root, "meters", SETTINGS_METERS_MAX, settings, read_meter, &context);
    settings->rules.solar = count_role(settings, ROLE_SOLAR) > 0;
    if (meters && reader->troubles->count == before)
        check_roles(reader, root, settings);
}

/* ---- thermometers --------------------------------------------------------------------------- */

static bool heats_a_known_tank(const struct load_settings *load)
{
    return load->water.volume_ml > 0;
}

static bool has_a_thermostat(const struct load_settings *load)
{
    return load->thermostat;
}

static bool is_any(const struct load_settings *load)
{
    (void)load;
    return true;
}

/* How many there are, and the last of them in *index. */
static int count_loads(const struct settings *settings,
                       bool (*fits)(const struct load_settings *load), uint16_t *index)
{
    int count = 0;
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (fits(&settings->loads[i])) {
            *index = i;
            count++;
        }
    return count;
}

bool find_the_tank(const struct settings *settings, uint16_t *index)
{
    static bool (*const kinds[])(const struct load_settings *load) = {heats_a_known_tank,
                                                                      has_a_thermostat, is_any};
    for (size_t k = 0; k < sizeof(kinds) / sizeof(kinds[0]); k++) {
        int count = count_loads(settings, kinds[k], index);
        if (count > 0)
            return count == 1;
    }
    return false;
}

static void match_tank(const struct reader *reader, const struct node *meters,
                       struct settings *settings, uint8_t index)
{
    struct meter_settings *meter = &settings->meters[index];
    const struct node *node = node_child(meters, meter->name);
    if (!meter->load[0] && !find_the_tank(settings, &meter->load_index)) {
        wrong_at_key(reader, node,
                     "meter %s needs load: several loads may have a tank, whose does it read?",
                     meter->name);
        return;
    }
    strcpy(meter->load, settings->names[meter->load_index].name);
    for (uint8_t k = 0; k < index; k++)
        if (settings->meters[k].role == ROLE_TANK &&
            settings->meters[k].load_index == meter->load_index)
            wrong_at_key(reader, node, "meter %s reads the tank of %s, which meter %s does already",
                         meter->name, meter->load, settings->meters[k].name);
}

void tanks_match(const struct reader *reader, const struct node *root, struct settings *settings)
{
    const struct node *meters = node_child(root, "meters");
    if (reader->troubles->count > 0)
        return; /* a load or a meter that could not be read would be guessed at */
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == ROLE_TANK)
            match_tank(reader, meters, settings, k);
}
