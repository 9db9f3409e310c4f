/* record.h - what the next run must know of this one: whether it died of a connection,
 * and which alerts stand at the broker.
 *
 * Inside this room only; belongs to the link's thread, the only one here that may wait
 * for a disk. */
#ifndef SLUICE_MQTT_RUN_RECORD_H
#define SLUICE_MQTT_RUN_RECORD_H

#include "mqtt/homie.h"

enum { RUN_RECORD_PLACE_MAX = 144, RUN_RECORD_PATH_MAX = 256 };

struct run_record {
    char path[RUN_RECORD_PATH_MAX];   /* "": nothing is kept */
    char place[RUN_RECORD_PLACE_MAX]; /* HOST:PORT */
    /* Connections begun in a row and not seen to end or to last: while one is young, it
     * is counted already. What is read at the start are those that ended with the process. */
    int young;
    int alerts;
    char alert[HOMIE_ALERTS_MAX][MQTT_ID_MAX];
};

/* What a file says of another broker's connections, or of another run of the machine, does
 * not count; its alerts do. A file that cannot be read says nothing. */
void run_record_read(struct run_record *record, const char *path,
                     const struct mqtt_settings *settings);
/* Best effort: written in place and left to the kernel, which outlives the process. */
void run_record_write(const struct run_record *record);

/* For an end that no connection is to blame for. */
void run_record_forget(const char *path, const struct mqtt_settings *settings);

/* How long not to connect after `deaths` in a row, in seconds. */
int run_record_hold_s(int deaths);

#endif
