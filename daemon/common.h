/* common.h - what every part of the site may know: the settings in force, the moment of this
 * turn, what is wrong now, and where that is told. */
#ifndef SLUICE_DAEMON_COMMON_H
#define SLUICE_DAEMON_COMMON_H

#include "ledger/ledger.h"
#include "mqtt/mqtt.h"
#include "settings/settings.h"
#include "terms/fault.h"

enum {
    SITE_FINDINGS_MAX = 2 * SETTINGS_LOADS_MAX,
    /* a load's output and its switch, a meter twice, a bus, an input, a sensor, some of the site's
       own, and what is inferred */
    SITE_TROUBLES_MAX = 2 * SETTINGS_LOADS_MAX + 2 * SETTINGS_METERS_MAX + SETTINGS_BUSES_MAX +
                        SETTINGS_INPUTS_MAX + SETTINGS_SENSORS_MAX + 16 + SITE_FINDINGS_MAX,
    SITE_GONE_MAX = 64,
    SITE_TROUBLE_KIND_MAX = 12,
    SITE_TROUBLE_TEXT_MAX = FAULT_TEXT_MAX,
};

/* Of a trouble in the list, what was last told of it; and whether it still stands. */
struct told {
    uint32_t news; /* rises each time that it is told */
    uint16_t seen;
    bool very_likely, listed;
};

/* One that was there before, and how often it came. */
struct gone {
    char id[FAULT_ID_MAX];
    uint16_t times;
};

struct common {
    struct settings *settings;
    struct moment now;
    struct mono started;
    struct ledger *ledger;                   /* NULL: not open yet */
    struct mqtt *mqtt;                       /* NULL: none */
    struct fault trouble[SITE_TROUBLES_MAX]; /* stays in the list until it is solved */
    struct told told[SITE_TROUBLES_MAX];
    int trouble_count;
    struct gone gone[SITE_GONE_MAX];
    uint32_t gone_count; /* ever: the oldest makes room */
};

#endif
