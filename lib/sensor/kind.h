/* kind.h - a kind of sensor: everything that is of one kind alone, in one row.
 *
 * A new kind is one file with such a row, and its name in meson.build. */
#ifndef SLUICE_SENSOR_KIND_H
#define SLUICE_SENSOR_KIND_H

#include "core/trouble.h"
#include "sensor/sensors.h"

struct sensor_kind {
    const char *word, *text;         /* under `kind`, and what it is */
    const struct setting_rows *rows; /* that go with it alone */
    const char *needs, *needs_text;  /* a setting that can't be left out, and what it is */
    int32_t power_on_mc;             /* what the part says before it has measured; 0: nothing */
    void (*name)(const struct sensor_settings *settings, struct text *text);
    /* Says what can't work. */
    void (*check)(const struct sensor_settings *settings, setting_say *say, void *context);

    /* One that is read, in a thread. False: it cannot, see trouble. */
    bool (*read)(const struct sensor_settings *settings, int32_t *mc, struct trouble *trouble);
    /* Else one that comes by itself: what a message says. */
    bool (*understand)(const char *payload, int32_t *mc, struct trouble *trouble);
};

const struct sensor_kind *sensor_kind_of(const struct sensor_settings *settings);

#endif
