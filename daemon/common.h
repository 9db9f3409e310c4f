/* common.h - what every part of the site may know: the settings in force, the moment of this
 * turn, what is wrong now, and where that is told. */
#ifndef SLUICE_DAEMON_COMMON_H
#define SLUICE_DAEMON_COMMON_H

#include "ledger/ledger.h"
#include "mqtt/mqtt.h"
#include "settings/settings.h"

enum {
    /* an output each, a meter twice, a bus, and some of the site's own */
    SITE_TROUBLES_MAX = SETTINGS_LOADS_MAX + 2 * SETTINGS_METERS_MAX + SETTINGS_BUSES_MAX + 16,
    SITE_TROUBLE_KIND_MAX = 12,
    SITE_TROUBLE_TEXT_MAX = 200,
};

/* Something that is wrong now, and stays in the list until it is not. */
struct site_trouble {
    char id[MQTT_ID_MAX];
    char text[SITE_TROUBLE_TEXT_MAX];
};

struct common {
    struct settings *settings;
    struct moment now;
    struct mono started;
    struct ledger *ledger; /* NULL: not open yet */
    struct mqtt *mqtt;     /* NULL: none */
    struct site_trouble trouble[SITE_TROUBLES_MAX];
    int trouble_count;
};

#endif
