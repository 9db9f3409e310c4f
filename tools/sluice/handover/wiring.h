/* wiring.h - what hangs on what, from the settings alone: for the diagram and the table beside
 * it. Nothing here says how it was really wired. */
#ifndef SLUICE_TOOLS_WIRING_H
#define SLUICE_TOOLS_WIRING_H

#include "core/text.h"
#include "settings/settings.h"

enum { WIRING_GROUPS_MAX = SETTINGS_BUSES_MAX + 2, WIRING_NONE = -1 };

enum wiring_what { WIRING_BUS, WIRING_LINES, WIRING_BROKER };

/* A line out of the board. */
struct wiring_group {
    uint8_t what; /* enum wiring_what */
    uint8_t bus;
};

struct wiring {
    struct wiring_group group[WIRING_GROUPS_MAX];
    int count;
};

void wiring_of(const struct settings *settings, struct wiring *wiring);
/* Whether the load's output hangs on that line. */
bool wiring_has_load(const struct wiring_group *group, const struct settings *settings,
                     uint16_t load);

/* "/dev/sluice-meter, 9600 8N1", "192.0.2.10:502". */
void wiring_write_port(const struct bus_settings *bus, struct text *text);
const char *wiring_role(enum meter_role role);

/* How many contactors switch the load; 0: its supply is not switched. */
int wiring_contactors(const struct load_settings *load);
int32_t wiring_contactor_w(const struct load_settings *load, int contactor);
/* What one phase carries at nominal voltage, the power spread evenly over its phases. */
int64_t wiring_phase_ma(const struct rules_settings *rules, const struct load_settings *load,
                        int32_t power_w);
void wiring_write_amps(int64_t current_ma, struct text *text); /* "15.7 A" */
const char *wiring_phases(uint8_t phases);

#endif
