/* view.h - the house as it stands, for those who tell of it: everything that a published
 * value is got from, and nothing that could be changed by it. */
#ifndef SLUICE_VALUES_VIEW_H
#define SLUICE_VALUES_VIEW_H

#include "meter/plausible.h"
#include "settings/settings.h"
#include "terms/fault.h"

/* A meter as its last answers left it. */
struct meter_view {
    bool read; /* there has been a good sample, */
    struct mono taken;
    enum bus_outcome outcome;
    const char *detail;
    enum implausible fault; /* of the newest sample, good or not */
};

/* What a load has counted since the beginning, as it is on disk: after a crash it goes on from
 * there, and whoever was told more would see it run backwards. */
struct stored_totals {
    bool known;
    struct load_totals totals;
};

struct values_view {
    const struct settings *settings;
    struct moment now;
    struct mono started;

    const struct reading *reading;
    const struct load_reading *load_reading;
    int64_t import_mj, export_mj, gap_ms;
    int32_t spare_w; /* INT32_MIN: not known */
    const struct rules_memory *memory;
    const struct stored_totals *stored; /* of each load; NULL: none is */
    const struct decision *decisions;
    const struct experiment *last_start, *last_stop; /* of each load; NULL: none is kept */
    const struct bus_quality *buses;
    const struct gateway_state *gateway;
    const struct fault *faults; /* all that is wrong now */
    int fault_count;
    struct input_view inputs[SETTINGS_INPUTS_MAX];
    struct sensor_view sensors[SETTINGS_SENSORS_MAX];

    /* Of the status alone; topics need none of it. */
    const char *version, *settings_path;
    bool last_accepted; /* these settings are in force, not the file at hand; */
    struct wall accepted_at;
    struct meter_view meters[SETTINGS_METERS_MAX];
    struct output_view outputs[SETTINGS_LOADS_MAX];
    const char *output_details[SETTINGS_LOADS_MAX];
    bool broker_enabled, broker_connected;
    const char *broker_trouble, *ledger_trouble; /* "": none */
};

#endif
