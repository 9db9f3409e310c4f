/* gateway_section.c - what rows alone cannot say of the gateway.
 *
 * Modbus has no password, so whoever reaches the gateway can ask the meter: beyond
 * loopback it wants to know who may. A port that is a bus already would have two masters'
 * worth of bytes on it. And a SunSpec view can't ask the meter afresh, so its readings
 * must be allowed to live from one poll to the next. */
#include "gateway_section.h"

#include <string.h>

#include "bus/serial_port.h"
#include "sections.h"
#include "sense.h"

/* ---- lists of words ------------------------------------------------------------------------ */

typedef bool read_word(const struct reader *reader, const struct node *node, int index, void *at);

/* A list of words, which may be empty, or one word; how many were right. */
static uint8_t read_words(const struct reader *reader, const struct node *map, const char *key,
                          int most, read_word *read, void *at)
{
    const struct node *list = node_child(map, key);
    uint8_t count = 0;
    if (!list)
        return 0;
    if (list->kind != NODE_TEXT && !want_kind(reader, list, NODE_LIST, "a list"))
        return 0;
    const struct node *node = list->kind == NODE_TEXT ? list : list->first;
    for (; node; node = list->kind == NODE_TEXT ? NULL : node->next) {
        if (count == most) {
            wrong_at(reader, node, "%s: lists more than %d", key, most);
            return count;
        }
        if (want_kind(reader, node, NODE_TEXT, "a single value") && read(reader, node, count, at))
            count++;
    }
    return count;
}

static bool read_allowed(const struct reader *reader, const struct node *node, int index, void *at)
{
    struct gateway_settings *gateway = at;
    struct trouble trouble;
    return gateway_network_parse(node->text, &gateway->allowed[index], &trouble) ||
           wrong_at(reader, node, "allow: %s", trouble.text);
}

static bool read_range(const struct reader *reader, const struct node *node, int index, void *at)
{
    struct gateway_served *served = at;
    struct trouble trouble;
    return gateway_range_parse(node->text, &served->range[index], &trouble) ||
           wrong_at(reader, node, "writable: %s", trouble.text);
}

/* ---- what is served -------------------------------------------------------------------------- */

static int find_meter(const struct reader *reader, const struct node *node, const char *name,
                      const struct settings *settings)
{
    const char *names[SETTINGS_METERS_MAX];
    for (int k = 0; k < settings->meter_count; k++) {
        names[k] = settings->meters[k].name;
        if (strcmp(names[k], name) == 0)
            return k;
    }
    wrong_at(reader, node, "meter: there is no meter \"%s\"%s", QUOTED(name),
             HINT(name, names, settings->meter_count));
    return -1;
}

static uint8_t wiring_of_site(const struct settings *settings)
{
    static const uint8_t wirings[] = {GATEWAY_SINGLE, GATEWAY_SINGLE, GATEWAY_SPLIT, GATEWAY_WYE};
    return wirings[settings->rules.phase_count & 3];
}

/* The finest scale factor at which 16 bits hold a quarter more than the supply can give;
 * `value` counts in 10^exponent. */
static int8_t finest(int64_t value, int8_t exponent)
{
    for (value += value / 4; value > INT16_MAX; value /= 10)
        exponent++;
    return exponent;
}

static void settle_scale(const struct settings *settings, struct gateway_served *served)
{
    const struct rules_settings *rules = &settings->rules;
    int64_t most_ma = (int64_t)rules->supply_limit_ma * rules->phase_count;
    served->current_exp = finest(most_ma / 10, -2);
    served->power_exp = finest(most_ma * rules->voltage_mv / 1000000, 0);
}

static void check_age(const struct reader *reader, const struct node *map,
                      const struct gateway_settings *gateway, const struct meter_settings *meter)
{
    if (gateway->age_ms < 2 * meter->every_ms)
        wrong_at_key(reader, map,
                     "a SunSpec view of meter %s needs age to be at least twice the meter's "
                     "every: between polls it would be silent",
                     meter->name);
}

static void take_meter(const struct reader *reader, const struct node *map,
                       const struct settings *settings, struct gateway_served *served)
{
    int index = find_meter(reader, node_child(map, "meter"), served->meter, settings);
    if (index < 0)
        return;
    const struct meter_settings *meter = &settings->meters[index];
    served->meter_index = (uint8_t)index;
    served->bus_index = meter->bus_index;
    served->bus_unit = meter->unit;
    served->unit = served->unit ? served->unit : meter->unit;
    strcpy(served->device, meter->map_name);
    if (served->view == GATEWAY_REGISTERS)
        return;
    check_age(reader, map, &settings->gateway, meter);
    settle_scale(settings, served);
    if (served->wiring == GATEWAY_AS_SITE)
        served->wiring = wiring_of_site(settings);
}

static void check_unit(const struct reader *reader, const struct node *map,
                       const struct gateway_settings *gateway, int index)
{
    const struct node *node = node_child(map, "unit");
    const struct gateway_served *served = gateway->served;
    for (int k = 0; k < index; k++)
        if (served[index].unit == served[k].unit) {
            wrong_at(reader, node ? node : map, "unit: %d is served already, for meter %s",
                     served[index].unit, served[k].meter);
            return;
        }
}

static void read_served(const struct reader *reader, struct node *map, struct settings *settings,
                        int index)
{
    struct gateway_served *served = &settings->gateway.served[index];
    const struct target targets[] = {{&gateway_served_rows, served}};
    int before = reader->troubles->count;
    settings->gateway.served_count = (uint8_t)(index + 1);
    read_section(reader, "an entry of serve", map, targets, 1, NULL);
    if (map->kind != NODE_MAP || reader->troubles->count > before)
        return;
    served->range_count =
        read_words(reader, map, "writable", GATEWAY_RANGES_MAX, read_range, served);
    take_meter(reader, map, settings, served);
    if (reader->troubles->count == before)
        check_unit(reader, map, &settings->gateway, index);
}

static void read_all_served(const struct reader *reader, const struct node *map,
                            struct settings *settings)
{
    struct node *list = node_child(map, "serve");
    int index = 0;
    if (is_missing(map, "serve"))
        wrong_at_key(reader, map,
                     "gateway needs serve: a list of meters, such as "
                     "[{meter: grid}]");
    if (!list || !want_kind(reader, list, NODE_LIST, "a list of what is served"))
        return;
    if (!list->first)
        wrong_at(reader, list, "serve: lists nothing");
    for (struct node *node = list->first; node; node = node->next) {
        if (index == GATEWAY_SERVED_MAX) {
            wrong_at(reader, node, "serve: lists more than %d", GATEWAY_SERVED_MAX);
            return;
        }
        read_served(reader, node, settings, index++);
    }
}

/* ---- the doors ---------------------------------------------------------------------------- */

static void check_tcp(const struct reader *reader, const struct node *map,
                      const struct gateway_settings *gateway)
{
    const struct node *node = node_child(map, "listen");
    struct gateway_network address;
    struct trouble trouble;
    if (strchr(gateway->listen, '/') ||
        !gateway_network_parse(gateway->listen, &address, &trouble)) {
        wrong_at(reader, node, "listen: \"%s\" is not an address, such as 192.0.2.20",
                 QUOTED(gateway->listen));
        return;
    }
    if (!gateway_is_loopback(&address) && gateway->allowed_count == 0)
        wrong_at(reader, node,
                 "listen: beyond loopback it needs allow: the peers that may connect, such as "
                 "[192.0.2.7]");
}

static void check_serial(const struct reader *reader, const struct node *map,
                         const struct settings *settings)
{
    const struct gateway_settings *gateway = &settings->gateway;
    const struct node *baud = node_child(map, "baud");
    if (baud && !serial_baud_is_known(gateway->baud))
        wrong_at(reader, baud, "baud: %d is not a serial speed: 9600 or 19200 are usual",
                 (int)gateway->baud);
    port_check_path(reader, node_child(map, "port"), gateway->port);
    for (int k = 0; k < settings->bus_count; k++)
        if (strcmp(settings->buses[k].port, gateway->port) == 0)
            wrong_at(reader, node_child(map, "port"),
                     "port: bus %s uses it already; the gateway needs a second one",
                     settings->buses[k].name);
}

static void check_doors(const struct reader *reader, const struct node *map,
                        const struct settings *settings)
{
    static const char *const serial[] = {"baud", "parity", "stop_bits"};
    const struct gateway_settings *gateway = &settings->gateway;
    bool tcp = gateway->tcp_port > 0;
    if (tcp)
        check_tcp(reader, map, gateway);
    if (gateway->port[0]) {
        check_serial(reader, map, settings);
        return;
    }
    if (!tcp)
        wrong_at_key(reader, map, "the gateway listens nowhere: write tcp_port or port");
    for (int k = 0; k < 3; k++)
        if (node_child(map, serial[k]))
            wrong_at_key(reader, node_child(map, serial[k]), "%s goes only with port", serial[k]);
}

void gateway_read(const struct reader *reader, const struct node *root, struct settings *settings)
{
    struct node *map = node_child(root, "gateway");
    struct gateway_settings *gateway = &settings->gateway;
    const struct target targets[] = {{&gateway_setting_rows, gateway}};
    int before = reader->troubles->count;
    gateway->enabled = map != NULL;
    if (!map || !want_section(reader, root, "gateway"))
        return;
    read_section(reader, "gateway", map, targets, 1, NULL);
    if (map->kind != NODE_MAP)
        return;
    gateway->allowed_count =
        read_words(reader, map, "allow", GATEWAY_ALLOWED_MAX, read_allowed, gateway);
    if (reader->troubles->count == before)
        check_doors(reader, map, settings);
    read_all_served(reader, map, settings);
}
