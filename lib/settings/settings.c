/* settings.c - the whole file: read in the order in which sections need each other,
 * then checked as a whole.
 *
 * Nothing stops at the first mistake. Sections are read even where others are wrong,
 * and the troubles are put into the order of the file at the end. */
#include "settings.h"

#include <stdlib.h>
#include <string.h>

#include "gateway_section.h"
#include "input_section.h"
#include "lamp_section.h"
#include "load_section.h"
#include "meter_section.h"
#include "output_section.h"
#include "paths.h"
#include "sections.h"
#include "sense.h"
#include "sensor_section.h"
#include "tariff_section.h"
#include "trouble_list.h"
#include "zone_file.h"

static const char *const top_keys[] = {"site",  "tariff",  "buses",   "meters", "groups",
                                       "loads", "inputs",  "sensors", "lamp",   "gateway",
                                       "mqtt",  "storage", "quote",   NULL};

/* ---- the site ---------------------------------------------------------------------------------
 *
 * How a retail meter settles three phases decides what is spare, and cannot be guessed: it has
 * no default there. */

static void read_zone(const struct reader *reader, const struct node *site,
                      struct settings *settings)
{
    const struct node *node = node_child(site, "timezone");
    struct trouble trouble;
    if (node && settings->timezone[0] &&
        !zone_by_name(settings->timezone, &settings->rules.zone, &settings->zone_is_odd, &trouble))
        wrong_at(reader, node, "timezone: %s", trouble.text);
}

static void check_phases(const struct reader *reader, const struct node *site,
                         struct rules_settings *rules)
{
    const struct node *phases = node_child(site, "phases");
    if (rules->phase_count == 3 && is_missing(site, "billing"))
        wrong_at_key(reader, phases,
                     "site needs billing: net or per_phase, whichever the retail meter does; there "
                     "is no default with 3 phases");
}

static void read_installer(const struct reader *reader, const struct node *site,
                           struct installer *installer)
{
    struct node *map = node_child(site, "installer");
    const struct target targets[] = {{&installer_rows, installer}};
    if (map)
        read_section(reader, "installer", map, targets, 1, NULL);
}

static void site_read(const struct reader *reader, const struct node *root,
                      struct settings *settings)
{
    struct node *site = node_child(root, "site");
    struct rules_settings *rules = &settings->rules;
    static const char *const others[] = {"installer", NULL};
    const struct target targets[] = {{&site_rows, settings}, {&rules_site_rows, rules}};
    if (want_section(reader, root, "site"))
        read_section(reader, "site", site, targets, 2, others);
    if (site && site->kind == NODE_MAP) {
        read_zone(reader, site, settings);
        read_installer(reader, site, &settings->installer);
        check_phases(reader, site, rules);
        site_check_sense(reader, site, rules);
    }
    /* What depends on it is read even where it is wrong; 0 phases stands for "not known". */
    if (rules->voltage_mv == 0)
        rules->voltage_mv = 230000;
}

/* ---- the broker -------------------------------------------------------------------------------
 *
 * Names that a topic can hold, and files that go together. */

static void check_word(const struct reader *reader, const struct node *map, const char *key,
                       const char *value)
{
    const struct node *node = node_child(map, key);
    if (node && !is_name(value))
        wrong_at(reader, node, "%s: up to 31 of a-z, 0-9 and hyphens, not \"%s\"", key,
                 QUOTED(value));
}

/* MQTT 3.1.1 section 3.1.3.1: what every broker takes. */
static void check_client_id(const struct reader *reader, const struct node *map, const char *id)
{
    const struct node *node = node_child(map, "client_id");
    if (node &&
        strspn(id, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789") != strlen(id))
        wrong_at(reader, node, "client_id: only letters and digits, not \"%s\"", QUOTED(id));
}

static void needs(const struct reader *reader, const struct node *map, const char *key,
                  const char *other)
{
    const struct node *node = node_child(map, key);
    if (node && !node_child(map, other))
        wrong_at_key(reader, node, "%s needs %s", key, other);
}

static void check_tls(const struct reader *reader, const struct node *map,
                      const struct mqtt_settings *mqtt)
{
    static const char *const files[] = {"ca_file", "certificate_file", "key_file"};
    for (int k = 0; k < 3 && !mqtt->tls; k++)
        if (node_child(map, files[k]))
            wrong_at_key(reader, node_child(map, files[k]), "%s goes only with tls: yes", files[k]);
    needs(reader, map, "certificate_file", "key_file");
    needs(reader, map, "key_file", "certificate_file");
}

static void mqtt_read(const struct reader *reader, const struct node *root,
                      struct settings *settings)
{
    struct node *map = node_child(root, "mqtt");
    struct mqtt_settings *mqtt = &settings->mqtt;
    const struct target targets[] = {{&mqtt_setting_rows, mqtt}};
    int before = reader->troubles->count;
    mqtt->enabled = map != NULL;
    if (!map || !want_section(reader, root, "mqtt"))
        return;
    read_section(reader, "mqtt", map, targets, 1, NULL);
    if (reader->troubles->count > before)
        return;
    host_check(reader, node_child(map, "host"), mqtt->host, "port");
    check_word(reader, map, "domain", mqtt->domain);
    check_word(reader, map, "device", mqtt->device);
    check_client_id(reader, map, mqtt->client_id);
    needs(reader, map, "password_file", "user");
    check_tls(reader, map, mqtt);
}

/* ---- groups and loads ----------------------------------------------------------------------- */

static void read_group(const struct reader *reader, struct node *map, struct settings *settings,
                       int index, const void *context)
{
    struct group_settings *group = &settings->rules.group[index];
    const struct target targets[] = {{&rules_group_rows, group}};
    int before = reader->troubles->count;
    (void)context;
    settings->rules.group_count = (uint8_t)(index + 1);
    strcpy(group->name, map->key);
    read_section(reader, map->key, map, targets, 1, NULL);
    if (reader->troubles->count == before && group->limit_ma == 0 && !group->one_at_a_time)
        wrong_at_key(reader, map, "group %s limits nothing: write limit, or one_at_a_time: yes",
                     map->key);
}

static void read_load(const struct reader *reader, struct node *map, struct settings *settings,
                      int index, const void *context)
{
    (void)context;
    settings->rules.load_count = (uint16_t)(index + 1);
    strcpy(settings->names[index].name, map->key);
    if (strcmp(map->key, "site") == 0 || strcmp(map->key, "all") == 0)
        wrong_at_key(reader, map, "a load may not be called %s: that word means all of them",
                     map->key);
    if (strcmp(map->key, "gateway") == 0 || strncmp(map->key, "bus-", strlen("bus-")) == 0)
        wrong_at_key(reader, map, "a load may not be called %s: on the broker that is %s", map->key,
                     map->key[0] == 'g' ? "the gateway" : "a bus");
    if (strncmp(map->key, "input-", strlen("input-")) == 0)
        wrong_at_key(reader, map, "a load may not be called %s: on the broker that is an input",
                     map->key);
    load_read(reader, map, settings, (uint16_t)index);
}

static void read_loads(const struct reader *reader, struct node *root, struct settings *settings)
{
    read_each(reader, root, "groups", RULES_GROUPS_MAX, settings, read_group, NULL);
    want_section(reader, root, "loads");
    read_each(reader, root, "loads", SETTINGS_LOADS_MAX, settings, read_load, NULL);
    const struct node *loads = node_child(root, "loads");
    if (loads && loads->kind == NODE_MAP)
        outputs_check(reader, loads, settings);
    rules_order(settings->loads, settings->rules.load_count, settings->order);
}

/* ---- the engine's own check ----------------------------------------------------------------- */

/* Asked of one load alone, it names the load as "0", or its floor as "0.FLOOR_INDEX". */
static const struct node *node_of_place(const struct node *load, const char *place)
{
    const char *dot = strchr(place, '.');
    const struct node *floors = dot ? node_child(load, "floors") : NULL;
    const struct node *node = floors ? floors->first : load;
    for (unsigned long left = floors ? strtoul(dot + 1, NULL, 10) : 0; left > 0 && node; left--)
        node = node->next;
    return node ? node : load;
}

static void check_rules(const struct reader *reader, const struct node *root,
                        const struct settings *settings)
{
    const struct node *loads = node_child(root, "loads");
    if (reader->troubles->count > 0)
        return;
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        static const uint16_t order[] = {0};
        struct rules_settings one = settings->rules;
        struct trouble trouble = {.place = ""};
        one.loads = &settings->loads[i];
        one.order = order;
        one.load_count = 1;
        if (!rules_settings_check(&one, &trouble))
            wrong_at_key(reader,
                         node_of_place(node_child(loads, settings->names[i].name), trouble.place),
                         "%s", trouble.text);
    }
}

/* ---- all ---------------------------------------------------------------------------------------
 */

static void read_storage(const struct reader *reader, const struct node *root,
                         struct settings *settings)
{
    const struct target targets[] = {{&ledger_setting_rows, &settings->ledger}};
    read_section(reader, "storage", node_child(root, "storage"), targets, 1, NULL);
}

static void read_more(const struct reader *reader, const struct node *root,
                      const struct settings_more *more)
{
    const struct target targets[] = {{more->section->rows, more->at}};
    read_section(reader, more->section->path, node_child(root, more->section->path), targets, 1,
                 NULL);
}

static void read_all(const struct reader *reader, struct node *root, struct settings *settings,
                     const char *maps_dir, const struct settings_more *more)
{
    read_section(reader, "the file", root, NULL, 0, top_keys);
    if (root->kind != NODE_MAP)
        return;
    site_read(reader, root, settings);
    tariff_read(reader, root, settings);
    buses_read(reader, root, settings);
    meters_read(reader, root, settings, maps_dir);
    gateway_read(reader, root, settings);
    mqtt_read(reader, root, settings);
    read_loads(reader, root, settings);
    inputs_read(reader, root, settings);
    sensors_read(reader, root, settings);
    lamp_read(reader, root, settings);
    tanks_match(reader, root, settings);
    sensors_match(reader, root, settings);
    read_storage(reader, root, settings);
    if (more)
        read_more(reader, root, more);
    paths_check(reader, root, settings);
    units_check(reader, root, settings);
    check_rules(reader, root, settings);
    if (reader->troubles->count == 0)
        floors_check_together(reader, root, settings);
}

static void maps_beside(const char *path, char dir[static 512])
{
    const char *slash = strrchr(path, '/');
    int length = slash ? (int)(slash - path) : 1;
    snprintf(dir, 512, "%.*s/meters", length, slash ? path : ".");
}

struct settings *settings_load(const char *path, const char *maps_dir,
                               const struct settings_more *more, struct settings_troubles *troubles)
{
    char beside[512];
    struct tree tree;
    struct settings *settings = calloc(1, sizeof(*settings));
    if (!settings || !document_read(path, &tree, troubles)) {
        free(settings);
        return NULL;
    }
    const struct reader reader = {path, troubles, &settings->notices};
    tree.root->more = more ? more->section : NULL;
    settings->rules.loads = settings->loads;
    settings->rules.order = settings->order;
    maps_beside(path, beside);
    read_all(&reader, tree.root, settings, maps_dir ? maps_dir : beside, more);
    source_take(&tree, &settings->source);
    document_free(&tree);
    troubles_sort(&settings->notices, path);
    if (troubles->count == 0 && !troubles->lost)
        return settings;
    troubles_sort(troubles, path);
    settings_free(settings);
    return NULL;
}

int settings_find_load(const struct settings *settings, const char *name)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (strcmp(settings->names[i].name, name) == 0)
            return i;
    return -1;
}

int settings_find_input(const struct settings *settings, const char *name)
{
    for (uint8_t k = 0; k < settings->input_count; k++)
        if (strcmp(settings->inputs[k].name, name) == 0)
            return k;
    return -1;
}

int settings_find_sensor(const struct settings *settings, const char *name)
{
    for (uint8_t k = 0; k < settings->sensor_count; k++)
        if (strcmp(settings->sensors[k].name, name) == 0)
            return k;
    return -1;
}

bool settings_read_tank(const struct settings *settings, uint16_t index)
{
    for (uint8_t k = 0; k < settings->meter_count; k++)
        if (settings->meters[k].role == ROLE_TANK &&
            (index == LOAD_ALL || settings->meters[k].load_index == index))
            return true;
    for (uint8_t k = 0; k < settings->sensor_count; k++)
        if (index == LOAD_ALL || settings->sensors[k].load_index == index)
            return true;
    return false;
}

void settings_free(struct settings *settings)
{
    if (!settings)
        return;
    for (uint8_t k = 0; k < SETTINGS_METERS_MAX; k++)
        free(settings->meters[k].map_source.bytes);
    free(settings->source.bytes);
    settings_troubles_free(&settings->notices);
    free(settings);
}
