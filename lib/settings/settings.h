/* settings.h - the settings file, read whole, checked whole, or not at all.
 *
 * YAML comes in through libyaml's event parser and a small tree of our own that
 * remembers where everything stood; the rows of each room turn it into that
 * room's struct. Every mistake is found in one go, with file:line:column, what
 * was expected, and the nearest valid key. */
#ifndef SLUICE_SETTINGS_SETTINGS_H
#define SLUICE_SETTINGS_SETTINGS_H

#include <stdio.h>
#include <sys/types.h>

#include "bus/bus.h"
#include "core/text.h"
#include "gateway/gateway.h"
#include "input/input.h"
#include "ledger/ledger.h"
#include "meter/meter.h"
#include "mqtt/mqtt.h"
#include "output/output.h"
#include "rules/rules.h"
#include "sensor/sensors.h"
#include "tariff/tariff.h"

enum {
    SETTINGS_BUSES_MAX = 8,
    SETTINGS_METERS_MAX = 8,
    SETTINGS_LOADS_MAX = 32,
    SETTINGS_INPUTS_MAX = 32,
    SETTINGS_SENSORS_MAX = 8,
    SETTINGS_NAME_MAX = 32,
    SETTINGS_COMMAND_MAX = 256,
    SETTINGS_MAPS_MAX = 128, /* of a folder, that are listed */
};

enum meter_role { ROLE_GRID, ROLE_SOLAR, ROLE_BATTERY, ROLE_LOAD, ROLE_TANK };

/* A file as it was when it was read. */
struct settings_source {
    char *bytes; /* NULL: there is none */
    size_t size;
};

struct meter_settings {
    char name[SETTINGS_NAME_MAX];
    uint8_t role; /* enum meter_role */
    char bus[32];
    uint8_t bus_index;
    uint8_t unit;
    char map_name[32]; /* "sunspec", or a file in the maps' folder without .yaml */
    bool sunspec;
    struct meter_map map;
    struct settings_source map_source;
    int32_t every_ms; /* poll interval */
    int32_t totals_every_ms;
    bool inverted;                /* the meter is wired the other way round */
    char load[SETTINGS_NAME_MAX]; /* role load: whose power; role tank: whose temperature */
    uint16_t load_index;
};

/* One that shows what goes on: steady while there is heating, a slow blink while something is
 * wrong. */
struct lamp_settings {
    bool enabled;
    char load[SETTINGS_NAME_MAX]; /* "": any of them */
    uint16_t load_index;          /* or LOAD_ALL */
    struct output_settings output;
};

struct load_names {
    char name[SETTINGS_NAME_MAX]; /* also its MQTT node: a-z 0-9 and hyphen */
    char title[64];
    int32_t rated_operations; /* of its contactor, for what it is told of; 0: not stated */
};

/* Who set the house up, for whoever lives in it; each may be "". */
struct installer {
    char name[64], phone[32], email[64], licence[48];
};

/* Remarks with their places, in the order of the file. */
struct settings_troubles {
    struct trouble *item;
    int count, room;
    bool lost; /* there was no memory for one: nothing is accepted */
};
void settings_troubles_free(struct settings_troubles *troubles);

struct settings {
    struct settings_source source;
    char site_name[64];
    char timezone[64]; /* "Australia/Sydney", or a POSIX TZ rule */
    bool zone_is_odd;  /* its file lists coming changes that its rule does not give */
    char control_socket[108];
    struct installer installer;
    char on_fault[SETTINGS_COMMAND_MAX]; /* "": none */
    struct rules_settings rules;         /* loads point into `loads` */
    struct load_settings loads[SETTINGS_LOADS_MAX];
    uint16_t order[SETTINGS_LOADS_MAX];
    struct load_names names[SETTINGS_LOADS_MAX];
    struct output_settings outputs[SETTINGS_LOADS_MAX];
    struct bus_settings buses[SETTINGS_BUSES_MAX];
    uint8_t bus_count;
    struct meter_settings meters[SETTINGS_METERS_MAX];
    uint8_t meter_count;
    struct input_settings inputs[SETTINGS_INPUTS_MAX];
    uint8_t input_count;
    struct sensor_settings sensors[SETTINGS_SENSORS_MAX];
    uint8_t sensor_count;
    struct lamp_settings lamp;
    struct gateway_settings gateway;
    struct mqtt_settings mqtt;
    struct ledger_settings ledger;
    struct settings_troubles notices; /* what may be right, and should be looked at */
};

/* A section that is no concern of the daemon's: the rows of the room whose it is, and what
 * they write to, all zero before. */
struct settings_more {
    const struct section *section;
    void *at;
};

/* NULL where anything is wrong; `troubles`, empty before, says what. `maps_dir` is where
 * meter maps lie (the folder "meters" beside the file, where NULL). `more` may be NULL: the
 * section `quote` is then passed over. */
struct settings *settings_load(const char *path, const char *maps_dir,
                               const struct settings_more *more,
                               struct settings_troubles *troubles);
void settings_free(struct settings *settings);

/* The index of the load, input or sensor; -1: there is none of that name. */
int settings_find_load(const struct settings *settings, const char *name);
int settings_find_input(const struct settings *settings, const char *name);
int settings_find_sensor(const struct settings *settings, const char *name);

/* Whether a meter or a sensor tells the temperature of that load's tank; of any, with
 * LOAD_ALL. */
bool settings_read_tank(const struct settings *settings, uint16_t index);

/* Whether `after` may be a file that was cut off while it was written: loads, floors or
 * meters that `before` has are gone, or the file ends in the midst of it or of a line.
 * `why` says what. The same file never does. */
bool settings_look_cut(const struct settings *before, const struct settings *after,
                       struct text *why);
/* Its last line has no line feed. */
bool settings_end_is_open(const struct settings *settings);

/* Whether a password or private key that the settings name can be read by others than its
 * owner, root and the group `ours`; `text` says which file, by whom, and what to do. */
bool settings_secret_open(const struct settings *settings, gid_t ours, struct text *text);

/* One meter map alone. */
bool settings_map_load(const char *path, struct meter_map *map, struct settings_troubles *troubles);

/* The names of the folder's maps in the order of the alphabet; -1: it can't be read. */
int settings_maps_list(const char *folder, char names[][SETTINGS_NAME_MAX]);

/* In plain sentences: what each load will do. */
void settings_describe(const struct settings *settings, FILE *to);

/* The row of a key such as "loads.NAME.minimum_on" or just "minimum_on"; all keys of a
 * section such as "loads"; "": all keys. False: no such key, and the nearest is named.
 * `more` is a section besides settings' own, here and in the example. */
bool settings_explain(const char *key, const struct section *more, FILE *to);

/* A whole settings file, commented, that settings_load accepts. */
void settings_example(const struct section *more, FILE *to);

#endif
