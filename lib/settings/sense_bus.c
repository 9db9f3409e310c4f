/* sense_bus.c - slips on the way to the devices: addresses, ports, units, maps.
 *
 * Two devices with one unit id answer at once, and what comes back is garbled or, worse,
 * the other's. A board with several loads shares its one unit, and the parts of one
 * inverter share theirs; a meter and a relay board don't. */
#include <arpa/inet.h>
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "output/backend.h"
#include "sense.h"

/* ---- peers and ports ------------------------------------------------------------------------ */

static bool is_address(const char *host)
{
    char plain[INET6_ADDRSTRLEN];
    unsigned char bytes[sizeof(struct in6_addr)];
    size_t length = strcspn(host, "%"); /* fe80::1%eth0: the interface is none of inet_pton's */
    if (length >= sizeof(plain))
        return false;
    memcpy(plain, host, length);
    plain[length] = '\0';
    return inet_pton(AF_INET, host, bytes) == 1 || inet_pton(AF_INET6, plain, bytes) == 1;
}

void host_check(const struct reader *reader, const struct node *node, const char *host,
                const char *port_key)
{
    static const char name[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789.-_";
    const char *colon = strchr(host, ':');
    if (is_address(host))
        return;
    if (strstr(host, "://"))
        wrong_at(reader, node,
                 "host: write the name or the address alone, such as 192.0.2.10, not \"%s\"",
                 QUOTED(host));
    else if (colon && strspn(colon + 1, "0123456789") == strlen(colon + 1))
        wrong_at(reader, node, "host: \"%s\" has a port in it: write host: %.*s and %s: %s",
                 QUOTED(host), (int)(colon - host), host, port_key, colon + 1);
    else if (strspn(host, "0123456789.") == strlen(host))
        wrong_at(
            reader, node,
            "host: \"%s\" is not an address: one is four numbers from 0 to 255 without leading "
            "zeros, such as 192.0.2.10",
            QUOTED(host));
    else if (strspn(host, name) != strlen(host))
        wrong_at(reader, node, "host: \"%s\" is neither a name nor an address, such as 192.0.2.10",
                 QUOTED(host));
}

void port_check_path(const struct reader *reader, const struct node *node, const char *port)
{
    struct stat found;
    bool failed = stat(port, &found) != 0;
    if (port[0] != '/')
        wrong_at(reader, node,
                 "port: a serial port is a device file, such as /dev/sluice-meter or /dev/ttyUSB0, "
                 "not \"%s\"",
                 QUOTED(port));
    else if (failed && (errno == ENOENT || errno == ENOTDIR))
        notice_at(reader, node,
                  "port: there is no %s on this machine. Is the adapter plugged in? "
                  "\"ls /dev/serial/by-id\" lists those that are.",
                  QUOTED(port));
    else if (!failed && !S_ISCHR(found.st_mode))
        notice_at(reader, node, "port: %s is not a serial port.", QUOTED(port));
}

/* ---- maps ----------------------------------------------------------------------------------- */

static bool has_any(const struct meter_map *map, const enum meter_quantity quantities[], int count)
{
    for (uint8_t k = 0; k < map->point_count; k++)
        for (int q = 0; q < count; q++)
            if (map->point[k].quantity == quantities[q])
                return true;
    return false;
}

/* A map that need not be of a one-phase meter, but shows one phase only. */
static bool shows_one_phase(const struct meter_map *map)
{
    static const enum meter_quantity first[] = {METER_POWER_L1, METER_CURRENT_L1, METER_VOLTAGE_L1};
    static const enum meter_quantity second[] = {METER_POWER_L2, METER_CURRENT_L2,
                                                 METER_VOLTAGE_L2};
    return has_any(map, first, 3) && !has_any(map, second, 3);
}

static const char *what_it_reads(const struct meter_map *map)
{
    switch (map->positive) {
    case METER_POSITIVE_PRODUCTION:
        return "what an inverter produces";
    case METER_POSITIVE_CHARGE:
        return "a battery";
    default:
        return NULL;
    }
}

void map_check_role(const struct reader *reader, const struct node *node,
                    const struct meter_settings *meter, uint8_t phase_count)
{
    static const uint8_t positives[] = {
        [ROLE_SOLAR] = METER_POSITIVE_PRODUCTION, [ROLE_BATTERY] = METER_POSITIVE_CHARGE};
    const char *what = what_it_reads(&meter->map);
    bool suits = (meter->role == ROLE_SOLAR || meter->role == ROLE_BATTERY) &&
                 positives[meter->role] == meter->map.positive;
    if (what && meter->role == ROLE_GRID)
        wrong_at(reader, node,
                 "map: %s reads %s: the role grid needs a meter at the connection point",
                 meter->map_name, what);
    else if (what && !suits && meter->role != ROLE_TANK)
        wrong_at(reader, node, "map: %s reads %s, which is not this meter's role", meter->map_name,
                 what);
    else if (meter->role == ROLE_GRID && phase_count == 3 && meter->map.phases == 1)
        wrong_at(reader, node,
                 "map: %s is of a one-phase meter, and the site has 3 phases: it can't see what "
                 "the other two draw",
                 meter->map_name);
    else if (meter->role == ROLE_GRID && phase_count == 3 && shows_one_phase(&meter->map))
        notice_at(reader, node,
                  "map: %s shows phase L1 only, and the site has 3 phases: if the meter has only "
                  "one, it can't see what the other two draw.",
                  meter->map_name);
}

/* ---- registers as papers count them -----------------------------------------------------------
 */

/* Papers give coils as 00001 and up, holding registers as 40001 and up: both are 0 on the
 * wire (Modicon's numbering; MODBUS Application Protocol V1.1b3 section 4.4 counts from 0). */
void address_check_number(const struct reader *reader, const struct node *node, bool coil,
                          uint16_t address)
{
    enum { FIRST_HOLDING = 40001, LAST_HOLDING = 49999 };
    const char *text = node->text;
    if (address >= FIRST_HOLDING && address <= LAST_HOLDING && coil)
        notice_at(reader, node,
                  "address: %u looks like a register number of the datasheet, where 40001 is "
                  "the first: coil %u? Addresses count from 0 here, as on the wire.",
                  address, address - FIRST_HOLDING);
    else if (address >= FIRST_HOLDING && address <= LAST_HOLDING)
        notice_at(reader, node,
                  "address: %u: if that is a register number of the datasheet, where 40001 "
                  "is the first, write %u. Addresses count from 0 here, as on the wire.",
                  address, address - FIRST_HOLDING);
    else if (coil && address > 0 && text[0] == '0' && strlen(text) == 5)
        notice_at(reader, node,
                  "address: %s looks like a coil number of the datasheet, where 00001 is the "
                  "first: coil %u? Addresses count from 0 here, as on the wire.",
                  QUOTED(text), address - 1U);
}

/* ---- unit ids ------------------------------------------------------------------------------- */

static const struct node *unit_of(const struct node *entry)
{
    const struct node *unit = child_of(entry, "unit");
    return unit ? unit : entry;
}

/* Its registers are those of a device that is a meter and nothing else. */
static bool is_plain_meter(const struct meter_settings *meter)
{
    return !meter->sunspec && meter->map.positive == METER_POSITIVE_WIRED;
}

/* The parts of one inverter: its output, its battery, the meter at its meter port. Or the
 * channels of one module that several thermometers are wired to, each with its map. */
static bool is_one_device(const struct meter_settings *a, const struct meter_settings *b)
{
    bool same_map = strcmp(a->map_name, b->map_name) == 0;
    if (same_map)
        return (a->role == ROLE_TANK) != (b->role == ROLE_TANK) ||
               (a->sunspec && a->role != b->role);
    bool thermometers = a->role == ROLE_TANK && b->role == ROLE_TANK;
    return thermometers || (!is_plain_meter(a) && !is_plain_meter(b));
}

static void check_meters(const struct reader *reader, const struct node *entry,
                         const struct settings *settings, uint8_t index)
{
    const struct meter_settings *meter = &settings->meters[index];
    for (uint8_t k = 0; k < index; k++) {
        const struct meter_settings *other = &settings->meters[k];
        if (meter->unit == 0 || meter->unit != other->unit || strcmp(meter->bus, other->bus) != 0 ||
            is_one_device(meter, other))
            continue;
        wrong_at(reader, unit_of(entry),
                 "unit: %u on bus %s is meter %s already: two devices on one bus need two unit ids",
                 meter->unit, meter->bus, other->name);
        return;
    }
}

/* What a load is switched by may hold its own meter too: a charger, a heat pump. */
static bool is_its_own(const struct meter_settings *meter, uint16_t load)
{
    return meter->role == ROLE_LOAD && meter->load_index == load;
}

static bool is_serial(const struct settings *settings, const char *bus)
{
    for (uint8_t k = 0; k < settings->bus_count; k++)
        if (strcmp(settings->buses[k].name, bus) == 0)
            return settings->buses[k].port[0] != '\0';
    return false;
}

static void check_output(const struct reader *reader, const struct node *entry,
                         const struct settings *settings, uint16_t index)
{
    const struct output_settings *output = &settings->outputs[index];
    bool on_bus = backend_of(output)->on_bus;
    for (uint8_t k = 0; on_bus && output->unit > 0 && k < settings->meter_count; k++) {
        const struct meter_settings *meter = &settings->meters[k];
        bool inverter = !meter->sunspec && meter->map.positive != METER_POSITIVE_WIRED;
        if (meter->unit != output->unit || strcmp(meter->bus, output->bus) != 0 || inverter ||
            is_its_own(meter, index))
            continue;
        if (is_plain_meter(meter) && meter->role != ROLE_TANK && is_serial(settings, meter->bus))
            wrong_at(reader, unit_of(entry),
                     "unit: %u on bus %s is meter %s already: a relay board needs a unit id of "
                     "its own",
                     output->unit, output->bus, meter->name);
        else
            notice_at(reader, unit_of(entry),
                      "unit: %u on bus %s is meter %s as well: right only where one device has "
                      "both. A relay board needs a unit id of its own.",
                      output->unit, output->bus, meter->name);
        return;
    }
}

void units_check(const struct reader *reader, const struct node *root,
                 const struct settings *settings)
{
    const struct node *meters = child_of(root, "meters"), *loads = child_of(root, "loads");
    for (uint8_t k = 0; k < settings->meter_count; k++) {
        const struct node *entry = child_of(meters, settings->meters[k].name);
        if (entry && entry->kind == NODE_MAP)
            check_meters(reader, entry, settings, k);
    }
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        const struct node *entry = child_of(child_of(loads, settings->names[i].name), "output");
        if (entry && entry->kind == NODE_MAP)
            check_output(reader, entry, settings, i);
    }
}
