/* experiment_values.c - what a load's last switchings showed at the meter.
 *
 * The same values of its last start and its last stop: a group each, with functions of its own
 * that differ in which of the two they look at. */
#include "getter.h"

static const struct experiment *last_start(const struct place *at)
{
    return &at->view->last_start[at->outer];
}

static const struct experiment *last_stop(const struct place *at)
{
    return &at->view->last_stop[at->outer];
}

static int has_start(const struct place *at)
{
    return at->view->last_start && last_start(at)->sequence != 0;
}

static int has_stop(const struct place *at)
{
    return at->view->last_stop && last_stop(at)->sequence != 0;
}

static bool is_seen(const struct experiment *experiment)
{
    return experiment->seen != EXPERIMENT_UNSEEN;
}

#define OF_EACH_IF(name, known, number)                                                            \
    GET(start_##name)                                                                              \
    {                                                                                              \
        const struct experiment *experiment = last_start(at);                                      \
        set_if(value, known, number);                                                              \
    }                                                                                              \
    GET(stop_##name)                                                                               \
    {                                                                                              \
        const struct experiment *experiment = last_stop(at);                                       \
        set_if(value, known, number);                                                              \
    }                                                                                              \
    struct place
#define OF_EACH(name, number) OF_EACH_IF(name, true, number)

OF_EACH(sequence, experiment->sequence);
OF_EACH(age, mono_since_ms(at->view->now.mono, experiment->at.mono));
OF_EACH(seen, experiment->seen);
OF_EACH(metered, experiment->metered);
OF_EACH(thought_open, experiment->thought_open);
OF_EACH_IF(since_opened, experiment->since_opened_ms >= 0, experiment->since_opened_ms);
OF_EACH(expected, experiment->expected_w);
OF_EACH_IF(step, is_seen(experiment), experiment->step_w);
OF_EACH_IF(voltage, experiment->voltage_mv > 0, experiment->voltage_mv);
OF_EACH(phase_step, experiment->phase_step_w[at->inner]);

static int start_phases(const struct place *at)
{
    return is_seen(last_start(at)) && last_start(at)->has_phases ? PHASES : -1;
}

static int stop_phases(const struct place *at)
{
    return is_seen(last_stop(at)) && last_stop(at)->has_phases ? PHASES : -1;
}

#define GROUP_OF(which)                                                                            \
    static const struct value_row which##_phase_rows[] = {                                         \
        {.kind = VALUE_POWER_W, .get = get_##which##_phase_step}};                                 \
    static const struct value_group which##_phase_group = {                                        \
        .form = GROUP_BARE_LIST, .count = which##_phases, VALUE_ROWS(which##_phase_rows)};         \
    static const struct value_row which##_rows[] = {                                               \
        {.key = "sequence", .kind = VALUE_COUNT, .get = get_##which##_sequence},                   \
        {.key = "age_ms", .kind = VALUE_TIME_MS, .get = get_##which##_age},                        \
        {.key = "seen",                                                                            \
         .kind = VALUE_WORD,                                                                       \
         .words = "clear,mixed,unseen",                                                            \
         .get = get_##which##_seen},                                                               \
        {.key = "metered", .kind = VALUE_YES_NO, .get = get_##which##_metered},                    \
        {.key = "thought_open", .kind = VALUE_YES_NO, .get = get_##which##_thought_open},          \
        {.key = "since_opened_ms", .kind = VALUE_TIME_MS, .get = get_##which##_since_opened},      \
        {.key = "expected_w", .kind = VALUE_POWER_W, .get = get_##which##_expected},               \
        {.key = "step_w", .kind = VALUE_POWER_W, .get = get_##which##_step},                       \
        {.key = "phase_step_w", .kind = VALUE_GROUP, .group = &which##_phase_group},               \
        {.key = "voltage_mv", .kind = VALUE_COUNT, .get = get_##which##_voltage},                  \
    };                                                                                             \
    const struct value_group values_of_##which = {.count = has_##which, VALUE_ROWS(which##_rows)}

GROUP_OF(start);
GROUP_OF(stop);
