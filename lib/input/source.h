/* source.h - a kind of input: everything that is of one kind alone, in one row.
 *
 * A new kind is one file with such a row, and its name in meson.build. */
#ifndef SLUICE_INPUT_SOURCE_H
#define SLUICE_INPUT_SOURCE_H

#include "input/input.h"

enum { SOURCE_BLOCK_MAX = BUS_VALUES_MAX };

struct input_source {
    const char *word, *text;         /* under `kind`, and what it is */
    const struct setting_rows *rows; /* that go with it alone */
    const char *needs, *needs_text;  /* a setting that can't be left out, and what it is */
    void (*name)(const struct input_settings *settings, struct text *text);

    /* One that answers later. */
    bool on_bus;
    /* Where `b` lies in a block that begins with `a`: below SOURCE_BLOCK_MAX; -1: in none. */
    int (*offset)(const struct input_settings *a, const struct input_settings *b);
    /* The job for `count` of them from this one on. */
    struct bus_job (*job)(const struct input_settings *settings, uint16_t count);

    /* One that answers at once. False: it cannot, see trouble. */
    bool (*open)(const struct input_settings *settings, void **device, struct trouble *trouble);
    void (*close)(void *device);
    bool (*read)(const struct input_settings *settings, void *device, bool *high,
                 struct trouble *trouble);
};

const struct input_source *input_source_of(const struct input_settings *settings);

#endif
