/* settings.c - the whole file: read in the order in which sections need each other,
 * then checked as a whole.
 *
 * Nothing stops at the first mistake. Sections are read even where others are wrong,
 * and the troubles are put into the order of the file at the end. */
#include "settings.h"

#include <stdlib.h>
#include <string.h>

#include "load_section.h"
#include "map_file.h"
#include "sections.h"
#include "zone_file.h"

static const char *const top_keys[] = {"site",  "tariff", "buses",   "meters", "groups",
                                       "loads", "mqtt",   "storage", NULL};

/* Calls `read` for each named child; reports names that cannot be used. */
typedef void read_named(const struct reader *reader, struct node *map, struct settings *settings,
                        int index, const void *context);

static void each_named(const struct reader *reader, struct node *root, const char *section,
                       int most, struct settings *settings, read_named *read, const void *context)
{
    struct node *map = node_child(root, section);
    int index = 0;
    if (!map || !want_kind(reader, map, NODE_MAP, "a group of named entries"))
        return;
    for (struct node *node = map->first; node; node = node->next) {
        if (!is_name(node->key)) {
            trouble_at_key(reader->troubles, reader->file, node,
                           "\"%.40s\" is not a name: use up to 31 of a-z, 0-9 and hyphens",
                           node->key);
        } else if (index == most) {
            trouble_at_key(reader->troubles, reader->file, node, "%s has more than %d entries",
                           section, most);
            return;
        } else {
            read(reader, node, settings, index++, context);
        }
    }
}

static bool want_section(const struct reader *reader, struct node *root, const char *section)
{
    const struct node *map = node_child(root, section);
    if (map && (map->kind != NODE_MAP || map->first))
        return true;
    trouble_at(reader->troubles, reader->file, map ? map : root, "the section %s is %s", section,
               map ? "empty" : "missing");
    return false;
}

/* ---- site, tariff ------------------------------------------------------------------------ */

static void read_site(const struct reader *reader, struct node *root, struct settings *settings)
{
    struct node *site = node_child(root, "site");
    struct rules_settings *rules = &settings->rules;
    const struct target targets[] = {{&site_rows, settings}, {&rules_site_rows, rules}};
    struct trouble trouble;
    bool odd;
    if (!want_section(reader, root, "site"))
        return;
    read_section(reader, "site", site, targets, 2, NULL);
    if (site->kind != NODE_MAP)
        return;
    const struct node *zone = node_child(site, "timezone");
    if (zone && zone->kind == NODE_TEXT &&
        !zone_by_name(settings->timezone, &rules->zone, &odd, &trouble))
        trouble_at(reader->troubles, reader->file, zone, "timezone: %s", trouble.text);
    if (rules->phase_count > 1 && !node_child(site, "billing"))
        trouble_at_key(reader->troubles, reader->file, site,
                       "site needs billing: net or per_phase, whichever the retail meter does; "
                       "there is no default with %u phases",
                       rules->phase_count);
    if (rules->phase_count == 2)
        trouble_at(reader->troubles, reader->file, node_child(site, "phases"), "phases is 1 or 3");
    if (strlen(settings->timezone) > 0 && odd)
        settings->zone_is_odd = true;
}

static void read_band(const struct reader *reader, struct node *node, struct tariff *tariff)
{
    if (tariff->count == TARIFF_BANDS_MAX) {
        trouble_at(reader->troubles, reader->file, node, "a tariff has at most %d bands",
                   TARIFF_BANDS_MAX);
        return;
    }
    struct tariff_band *band = &tariff->band[tariff->count++];
    const struct target targets[] = {{&band_rows, band}};
    read_section(reader, "a band", node, targets, 1, NULL);
    if ((band->first_month == 0) != (band->last_month == 0))
        trouble_at(reader->troubles, reader->file, node,
                   "a season needs both from_month and to_month");
}

static void read_tariff(const struct reader *reader, struct node *root, struct settings *settings)
{
    struct node *map = node_child(root, "tariff");
    struct tariff *tariff = &settings->rules.tariff;
    const struct target targets[] = {{&tariff_rows, tariff}};
    if (!map)
        return;
    read_section(reader, "tariff", map, targets, 1, NULL);
    struct node *bands = map->kind == NODE_MAP ? node_child(map, "import") : NULL;
    if (!bands || !want_kind(reader, bands, NODE_LIST, "a list of bands"))
        return;
    for (struct node *band = bands->first; band; band = band->next)
        read_band(reader, band, tariff);
}

/* ---- buses, groups, meters ------------------------------------------------------------------ */

static void read_bus(const struct reader *reader, struct node *map, struct settings *settings,
                     int index, const void *context)
{
    struct bus_settings *bus = &settings->buses[index];
    const struct target targets[] = {{&bus_setting_rows, bus}};
    (void)context;
    settings->bus_count = (uint8_t)(index + 1);
    strcpy(bus->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if ((bus->port[0] != '\0') == (bus->host[0] != '\0'))
        trouble_at_key(reader->troubles, reader->file, map,
                       "bus %s needs either port (serial) or host (Modbus TCP)", map->key);
}

static void read_group(const struct reader *reader, struct node *map, struct settings *settings,
                       int index, const void *context)
{
    struct group_settings *group = &settings->rules.group[index];
    const struct target targets[] = {{&rules_group_rows, group}};
    (void)context;
    settings->rules.group_count = (uint8_t)(index + 1);
    strcpy(group->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if (group->limit_ma == 0 && !group->one_at_a_time)
        trouble_at_key(reader->troubles, reader->file, map,
                       "group %s limits nothing: write limit, or one_at_a_time: yes", map->key);
}

static void read_map(const struct reader *reader, const struct node *map,
                     struct meter_settings *meter, const char *maps_dir)
{
    char path[512];
    const struct node *node = node_child(map, "map");
    meter->sunspec = strcmp(meter->map_name, "sunspec") == 0;
    if (meter->sunspec || !node)
        return;
    if (!is_name(meter->map_name)) {
        trouble_at(reader->troubles, reader->file, node,
                   "\"%.40s\" is not a map: write sunspec, or the name of a file in %.100s without "
                   ".yaml",
                   meter->map_name, maps_dir);
        return;
    }
    snprintf(path, sizeof(path), "%s/%s.yaml", maps_dir, meter->map_name);
    FILE *there = fopen(path, "re");
    if (!there) {
        trouble_at(reader->troubles, reader->file, node, "there is no map %.150s", path);
        return;
    }
    fclose(there);
    map_read(path, &meter->map, reader->troubles);
}

static void read_meter(const struct reader *reader, struct node *map, struct settings *settings,
                       int index, const void *context)
{
    struct meter_settings *meter = &settings->meters[index];
    const struct target targets[] = {{&meter_rows, meter}};
    settings->meter_count = (uint8_t)(index + 1);
    strcpy(meter->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return;
    read_map(reader, map, meter, context);
    const struct node *bus = node_child(map, "bus");
    for (uint8_t k = 0; k < settings->bus_count; k++)
        if (strcmp(settings->buses[k].name, meter->bus) == 0) {
            meter->bus_index = k;
            return;
        }
    if (bus && bus->kind == NODE_TEXT)
        trouble_at(reader->troubles, reader->file, bus, "there is no bus \"%.31s\"", meter->bus);
}

static int count_role(const struct settings *settings, enum meter_role role)
{
    int count = 0;
    for (uint8_t k = 0; k < settings->meter_count; k++)
        count += settings->meters[k].role == role;
    return count;
}

static void check_meters(const struct reader *reader, const struct node *root,
                         const struct settings *settings)
{
    const struct node *meters = node_child(root, "meters");
    if (!meters || meters->kind != NODE_MAP)
        return;
    if (count_role(settings, ROLE_GRID) != 1)
        trouble_at_key(reader->troubles, reader->file, meters,
                       "exactly one meter has the role grid, not %d",
                       count_role(settings, ROLE_GRID));
    if (settings->rules.battery != (count_role(settings, ROLE_BATTERY) == 1))
        trouble_at_key(reader->troubles, reader->file, meters,
                       "battery: yes and one meter of role battery belong together");
}

/* ---- loads --------------------------------------------------------------------------------------
 */

static void read_load(const struct reader *reader, struct node *map, struct settings *settings,
                      int index, const void *context)
{
    (void)context;
    settings->rules.load_count = (uint16_t)(index + 1);
    strcpy(settings->names[index].name, map->key);
    if (strcmp(map->key, "site") == 0 || strcmp(map->key, "all") == 0)
        trouble_at_key(reader->troubles, reader->file, map, "a load may not be called \"%s\"",
                       map->key);
    load_read(reader, map, settings, (uint16_t)index);
}

/* Before the loads are read, so that a load knows whether it has a meter. */
static void match_load_meters(const struct reader *reader, struct node *root,
                              struct settings *settings)
{
    struct node *loads = node_child(root, "loads"), *meters = node_child(root, "meters");
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        struct meter_settings *meter = &settings->meters[k];
        struct node *load = loads && loads->kind == NODE_MAP ? loads->first : NULL;
        if (meter->role != ROLE_LOAD)
            continue;
        uint16_t index = 0;
        while (load && strcmp(load->key, meter->load) != 0) {
            load = load->next;
            index++;
        }
        if (!load) {
            trouble_at_key(reader->troubles, reader->file, node_child(meters, meter->name),
                           "meter %s has the role load, but there is no load \"%.31s\"",
                           meter->name, meter->load);
            continue;
        }
        meter->load_index = index;
        if (index < SETTINGS_LOADS_MAX)
            settings->loads[index].metered = true;
    }
}

static bool same_place(const struct output_settings *a, const struct output_settings *b)
{
    bool on_bus = a->kind == OUTPUT_COIL || a->kind == OUTPUT_REGISTER;
    if (a->kind != b->kind)
        return false;
    if (a->kind == OUTPUT_LINE)
        return strcmp(a->chip, b->chip) == 0 && a->line == b->line;
    if (!on_bus)
        return strcmp(a->topic, b->topic) == 0;
    for (uint8_t i = 0; i < a->contactors; i++)
        for (uint8_t j = 0; j < b->contactors; j++)
            if (a->bus_index == b->bus_index && a->unit == b->unit &&
                a->address[i] == b->address[j])
                return true;
    return false;
}

static void check_outputs(const struct reader *reader, const struct node *root,
                          const struct settings *settings)
{
    const struct node *loads = node_child(root, "loads");
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        for (uint16_t j = 0; j < i; j++)
            if (same_place(&settings->outputs[i], &settings->outputs[j]))
                trouble_at_key(reader->troubles, reader->file,
                               node_child(loads, settings->names[i].name),
                               "loads %s and %s have the same output", settings->names[j].name,
                               settings->names[i].name);
}

/* The engine's own check names the load, and perhaps its floor, by index. */
static void check_rules(const struct reader *reader, const struct node *root,
                        const struct settings *settings)
{
    struct trouble trouble;
    if (reader->troubles->count > 0 || rules_settings_check(&settings->rules, &trouble))
        return;
    char *dot;
    unsigned long load = strtoul(trouble.place, &dot, 10);
    const struct node *at = node_child(node_child(root, "loads"), settings->names[load].name);
    if (*dot == '.') {
        unsigned long floor = strtoul(dot + 1, NULL, 10);
        at = node_child(at, "floors")->first;
        while (floor-- > 0)
            at = at->next;
    }
    trouble_at_key(reader->troubles, reader->file, at, "%s", trouble.text);
}

/* ---- all ---------------------------------------------------------------------------------------
 */

static void read_edges(const struct reader *reader, struct node *root, struct settings *settings)
{
    struct node *mqtt = node_child(root, "mqtt");
    const struct target mqtt_target[] = {{&mqtt_setting_rows, &settings->mqtt}};
    const struct target ledger_target[] = {{&ledger_setting_rows, &settings->ledger}};
    settings->mqtt.enabled = mqtt != NULL;
    if (mqtt)
        read_section(reader, "mqtt", mqtt, mqtt_target, 1, NULL);
    read_section(reader, "storage", node_child(root, "storage"), ledger_target, 1, NULL);
}

static void read_all(const struct reader *reader, struct node *root, struct settings *settings,
                     const char *maps_dir)
{
    read_section(reader, "the file", root, NULL, 0, top_keys);
    if (root->kind != NODE_MAP)
        return;
    read_site(reader, root, settings);
    if (settings->rules.voltage_mv == 0)
        settings->rules.voltage_mv = 230000; /* site was wrong: what depends on it is still read */
    read_tariff(reader, root, settings);
    want_section(reader, root, "buses");
    each_named(reader, root, "buses", SETTINGS_BUSES_MAX, settings, read_bus, NULL);
    want_section(reader, root, "meters");
    each_named(reader, root, "meters", SETTINGS_METERS_MAX, settings, read_meter, maps_dir);
    check_meters(reader, root, settings);
    each_named(reader, root, "groups", RULES_GROUPS_MAX, settings, read_group, NULL);
    match_load_meters(reader, root, settings);
    want_section(reader, root, "loads");
    each_named(reader, root, "loads", SETTINGS_LOADS_MAX, settings, read_load, NULL);
    check_outputs(reader, root, settings);
    read_edges(reader, root, settings);
    rules_order(settings->loads, settings->rules.load_count, settings->order);
    check_rules(reader, root, settings);
}

static void place_of(const struct trouble *trouble, int *line, int *column)
{
    const char *second = strrchr(trouble->place, ':');
    const char *first = second;
    *line = *column = 0;
    while (first && first > trouble->place && first[-1] != ':')
        first--;
    if (first && first > trouble->place) {
        *line = atoi(first);
        *column = atoi(second + 1);
    }
}

static int by_place(const void *a, const void *b)
{
    int line_a, column_a, line_b, column_b;
    place_of(a, &line_a, &column_a);
    place_of(b, &line_b, &column_b);
    return line_a != line_b ? line_a - line_b : column_a - column_b;
}

static void maps_beside(const char *path, char dir[static 512])
{
    const char *slash = strrchr(path, '/');
    int length = slash ? (int)(slash - path) : 1;
    snprintf(dir, 512, "%.*s/meters", length, slash ? path : ".");
}

struct settings *settings_load(const char *path, const char *maps_dir,
                               struct settings_troubles *troubles)
{
    char beside[512];
    struct tree tree;
    maps_beside(path, beside);
    struct settings *settings = calloc(1, sizeof(*settings));
    if (!settings || !document_read(path, &tree, troubles)) {
        free(settings);
        return NULL;
    }
    settings->rules.loads = settings->loads;
    settings->rules.order = settings->order;
    const struct reader reader = {path, troubles};
    read_all(&reader, tree.root, settings, maps_dir ? maps_dir : beside);
    document_free(&tree);
    if (troubles->count == 0)
        return settings;
    qsort(troubles->item, (size_t)troubles->count, sizeof(*troubles->item), by_place);
    settings_free(settings);
    return NULL;
}

void settings_free(struct settings *settings)
{
    free(settings);
}
