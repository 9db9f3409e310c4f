/* wiring.c - lines out of the board: buses in the order of the settings, then the board's own
 * output lines, then the broker. */
#include "wiring.h"

#include <inttypes.h>
#include <stdio.h>

#include "output/backend.h"

static void add_group(struct wiring *wiring, enum wiring_what what, uint8_t bus)
{
    wiring->group[wiring->count++] = (struct wiring_group){(uint8_t)what, bus};
}

bool wiring_has_load(const struct wiring_group *group, const struct settings *settings,
                     uint16_t load)
{
    const struct output_settings *output = &settings->outputs[load];
    const struct backend *backend = backend_of(output);
    if (backend->on_bus)
        return group->what == WIRING_BUS && output->bus_index == group->bus;
    return group->what == (backend->on_broker ? WIRING_BROKER : WIRING_LINES);
}

void wiring_of(const struct settings *settings, struct wiring *wiring)
{
    const struct wiring_group lines = {.what = WIRING_LINES};
    bool has_lines = false;
    wiring->count = 0;
    for (uint16_t k = 0; k < settings->rules.load_count; k++)
        has_lines |= wiring_has_load(&lines, settings, k);
    for (uint8_t k = 0; k < settings->bus_count; k++)
        add_group(wiring, WIRING_BUS, k);
    if (has_lines)
        add_group(wiring, WIRING_LINES, 0);
    if (settings->mqtt.enabled)
        add_group(wiring, WIRING_BROKER, 0);
}

void wiring_write_port(const struct bus_settings *bus, struct text *text)
{
    if (bus->port[0])
        text_add(text, "%s, %" PRId32 " baud 8%c%u", bus->port, bus->baud,
                 parity_letter(bus->parity), bus->stop_bits);
    else
        text_add(text, "%s, TCP port %" PRId32, bus->host, bus->tcp_port);
}

const char *wiring_role(enum meter_role role)
{
    static const char *const roles[] = {[ROLE_GRID] = "grid",
                                        [ROLE_SOLAR] = "solar",
                                        [ROLE_BATTERY] = "battery",
                                        [ROLE_LOAD] = "a load",
                                        [ROLE_TANK] = "tank temperature"};
    return roles[role];
}

int wiring_contactors(const struct load_settings *load)
{
    return load->kind == LOAD_SWITCHED ? 1 : load->kind == LOAD_STAGED ? load->stages : 0;
}

int32_t wiring_contactor_w(const struct load_settings *load, int contactor)
{
    return load->kind == LOAD_STAGED ? load->stage_w[contactor] : load->power_w;
}

int64_t wiring_phase_ma(const struct rules_settings *rules, const struct load_settings *load,
                        int32_t power_w)
{
    int phases = phases_count(load->phases);
    return (int64_t)power_w * 1000000 / rules->voltage_mv / (phases > 0 ? phases : 1);
}

void wiring_write_amps(int64_t current_ma, struct text *text)
{
    int64_t tenths = (current_ma + 50) / 100;
    text_add(text, "%" PRId64 ".%" PRId64 " A", tenths / 10, tenths % 10);
}

const char *wiring_phases(uint8_t phases)
{
    static const char *const words[] = {"-",  "L1",    "L2",    "L1 L2",
                                        "L3", "L1 L3", "L2 L3", "L1 L2 L3"};
    return words[phases & 7];
}
