/* kind.h - in what the kinds of load differ: a row of operations for each.
 *
 * A new kind is a row in kind.c, its name in enum load_kind (rules.h), the rows of the keys that
 * only it has (rules_rows.c), and, where its sizes are written in a way of their own, how they
 * are read (lib/settings/load_section.c). */
#ifndef SLUICE_RULES_KIND_H
#define SLUICE_RULES_KIND_H

#include "rules.h"

/* One step of a load that is on; the present level and stage where it stays as it is. */
struct step {
    int32_t level_w;
    uint8_t stage;
    int64_t at_ms; /* mono: to be taken from then on */
};

struct kind {
    /* NULL: its power when drawing. With `memory` NULL by the settings alone. */
    int32_t (*start_w)(const struct load_settings *load, const struct load_memory *memory);
    int32_t (*expected_w)(const struct load_settings *load, const struct load_memory *memory);
    int32_t (*most_w)(const struct load_settings *load, const struct load_memory *memory);
    /* Towards a power that it may draw now; NULL: it has one level. */
    struct step (*step)(const struct load_settings *load, const struct load_memory *memory,
                        enum basis basis, int64_t target_w);
    /* What a reload leaves of the level of a load that is on, its kind being the same. */
    void (*keep_level)(const struct load_settings *load, struct load_memory *memory);

    bool shows_step;  /* we switch it ourselves, so its step at the meter has a known moment */
    bool learns_w;    /* what its own meter shows replaces the nameplate */
    bool follows;     /* obeys a set-point, in its own time: falls before loads are shed */
    bool has_stages;  /* a contactor each */
    bool has_range;   /* its least and its steps are settings */
    bool needs_power; /* its floors count energy: time at which power would say nothing */

    const char *start_key; /* the setting that says what a start takes */
    const char *obeys;     /* what it obeys in place of having its supply switched; NULL */
    /* A sentence of what it is, for people; `phases` in words. */
    void (*describe)(const struct load_settings *load, const char *phases, struct text *text);
};

const struct kind *kind_of(const struct load_settings *load);

/* As people write them: the choice of each kind, in the order of enum load_kind. */
extern const struct setting_choice kind_choices[];

/* Its power when drawing: measured, else by the nameplate. */
static inline int32_t load_power_w(const struct load_settings *load,
                                   const struct load_memory *memory)
{
    return memory ? memory->draw.view.power_w : load->power_w;
}

/* The power a start is expected to add. */
static inline int32_t load_start_w(const struct load_settings *load,
                                   const struct load_memory *memory)
{
    const struct kind *kind = kind_of(load);
    return kind->start_w ? kind->start_w(load, memory) : load_power_w(load, memory);
}

/* The power that it is expected to draw at its present level and stage. */
static inline int32_t load_expected_w(const struct load_settings *load,
                                      const struct load_memory *memory)
{
    const struct kind *kind = kind_of(load);
    return kind->expected_w ? kind->expected_w(load, memory) : load_power_w(load, memory);
}

/* All it can draw: for a floor's need. */
static inline int32_t load_most_w(const struct load_settings *load,
                                  const struct load_memory *memory)
{
    const struct kind *kind = kind_of(load);
    return kind->most_w ? kind->most_w(load, memory) : load_power_w(load, memory);
}

#endif
