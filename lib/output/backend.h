/* backend.h - the rows: how each kind of output is set and read. */
#ifndef SLUICE_OUTPUT_BACKEND_H
#define SLUICE_OUTPUT_BACKEND_H

#include "output/level.h"

/* How far an action got at once. */
enum backend_result {
    BACKEND_DONE,   /* set; or read, and the value is there */
    BACKEND_POSTED, /* an answer will come */
    BACKEND_UNSENT, /* see trouble: the order went nowhere, and nothing is known of the device */
    BACKEND_FAILED, /* see trouble: it says no */
};

struct backend_call {
    const struct output_settings *settings;
    const struct output_doors *doors;
    void *device;      /* what open gave */
    uint8_t contactor; /* which of its addresses */
    uint32_t job_id;
    struct mono now;
};

struct backend {
    /* NULL where there is nothing to open; *device NULL with trouble: it cannot. */
    bool (*open)(const struct output_settings *settings, void **device, struct trouble *trouble);
    enum backend_result (*set)(const struct backend_call *call, int32_t value,
                               struct trouble *trouble);
    enum backend_result (*read)(const struct backend_call *call, int32_t *value,
                                struct trouble *trouble);
    void (*close)(void *device);
    bool (*check)(const struct output_settings *settings, struct trouble *trouble);
};

/* By enum output_kind. */
const struct backend *backend_of(uint8_t kind);

extern const struct backend backend_coil, backend_register, backend_topic, backend_line;

/* "coil 3 of unit 17 on relays": what messages call it. */
void backend_name(const struct output_settings *settings, uint8_t contactor, struct text *name);

#endif
