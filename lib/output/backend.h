/* backend.h - a kind of output: everything that is of one kind alone, in one row.
 *
 * Its settings, what it is called, what to check and to mind, whether two of them are the
 * same thing, and how it is set and read. A new kind is one file with such a row, and its
 * name in meson.build; nobody else tells kinds apart. */
#ifndef SLUICE_OUTPUT_BACKEND_H
#define SLUICE_OUTPUT_BACKEND_H

#include "core/text.h"
#include "output/output.h"

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

enum { BACKEND_ROWS_MAX = 3 };

struct backend {
    /* ---- as people write it ---- */
    const char *word, *text;                           /* under `kind`, and what it is */
    const struct setting_rows *rows[BACKEND_ROWS_MAX]; /* kinds may share some; NULL-ended */
    const char *needs, *needs_text; /* a setting that can't be left out, and what it is; or NULL */

    /* ---- what it is ---- */
    bool on_bus;         /* it has a bus, a unit, and an address for each contactor */
    bool coils;          /* its addresses are those of coils */
    bool on_broker;      /* nothing can be promised without the broker */
    bool amounts;        /* it can carry a set-point */
    int32_t counts_most; /* its set-point is in counts, up to so many; 0: in W or mA itself */

    /* ---- words ---- */
    /* "coil 3 of unit 17 on relays": what messages call it. */
    void (*name)(const struct output_settings *settings, uint8_t contactor, struct text *name);
    /* The same for a person who reads the settings through: "coils 3, 4 of unit 17 on bus
     * relays, read back". */
    void (*describe)(const struct output_settings *settings, struct text *text);
    /* What its settings can't promise, in sentences; NULL: nothing. `mind_once` is said once
     * for all outputs that have it. */
    void (*mind)(const struct output_settings *settings, setting_say *say, void *context);
    const char *mind_once;

    /* ---- judging ---- */
    /* Says what can't work; NULL: all can. */
    void (*check)(const struct output_settings *settings, setting_say *say, void *context);
    /* Both of this kind: they switch the same thing. */
    bool (*same_place)(const struct output_settings *a, const struct output_settings *b);

    /* ---- what its device says ---- */
    bool (*reads_back)(const struct output_settings *settings); /* NULL: it can't be read */
    const char *(*state_topic)(
        const struct output_settings *settings); /* NULL: it doesn't report */
    /* A report as the device's value. False: it is none. */
    bool (*parse)(const struct output_settings *settings, const char *payload, size_t length,
                  int32_t *value);

    /* ---- doing ---- */
    /* The device's value for a closed and an open contact; NULL: 1 and 0. */
    int32_t (*switch_value)(const struct output_settings *settings, bool closed);
    /* NULL where there is nothing to open. False: it cannot, see trouble. */
    bool (*open)(const struct output_settings *settings, void **device, struct trouble *trouble);
    void (*close)(void *device);
    enum backend_result (*set)(const struct backend_call *call, int32_t value,
                               struct trouble *trouble);
    enum backend_result (*read)(const struct backend_call *call, int32_t *value,
                                struct trouble *trouble);
};

const struct backend *backend_of(const struct output_settings *settings);
const struct backend *backend_at(uint8_t kind); /* NULL: there are no more kinds */

/* A kind's own settings are a struct of its file, which lies in output_settings.own. */
#define BACKEND_OWN __attribute__((may_alias))
#define BACKEND_OWN_AT(type, field)                                                                \
    .offset = offsetof(struct output_settings, own) + offsetof(type, field),                       \
    .size = sizeof(((type *)0)->field)

/* Rows for the set-points of kinds that carry amounts, and whether one is set. */
extern const struct setting_rows amount_rows; /* amount.c */
static inline bool amount_is_set(const struct output_settings *settings)
{
    return settings->scale_w > 0 || settings->scale_ma > 0;
}

#endif
