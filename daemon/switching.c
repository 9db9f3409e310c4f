/* switching.c - the outputs among their edges: what they need of buses and broker, and how they
 * come through a reload. Nothing is switched by one but what is wired to nothing any more. */
#include "switching.h"

#include <string.h>

enum { RETIRED_MS = MS_PER_MIN }; /* for the outputs of loads that are gone */

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    return job_post(((struct switching *)context)->lines, bus_index, job);
}

static bool publish(void *context, const char *topic, const char *payload)
{
    const struct switching *switching = context;
    return switching->common->mqtt && mqtt_send(switching->common->mqtt, topic, payload);
}

static struct outputs *open_outputs(struct switching *switching,
                                    const struct output_settings settings[], uint16_t count,
                                    uint32_t job_base, struct trouble *trouble)
{
    const struct output_doors doors = {.context = switching, .post = post, .publish = publish};
    return outputs_new(settings, count, job_base, &doors, trouble);
}

static struct outputs *open_all(struct switching *switching, struct trouble *trouble)
{
    const struct settings *settings = switching->common->settings;
    return open_outputs(switching, settings->outputs, settings->rules.load_count, JOB_OUTPUTS,
                        trouble);
}

bool switching_open(struct switching *switching, struct lines *lines, const struct common *common,
                    struct trouble *trouble)
{
    switching->lines = lines;
    switching->common = common;
    switching->outputs = open_all(switching, trouble);
    return switching->outputs != NULL;
}

void switching_answer(struct switching *switching, const struct bus_answer *answer, bool of_now)
{
    if (answer->id >= JOB_RETIRED && switching->retired)
        outputs_answer(switching->retired, answer);
    else if (of_now && answer->id >= JOB_OUTPUTS && answer->id < JOB_RETIRED)
        outputs_answer(switching->outputs, answer);
}

void switching_turn(struct switching *switching, struct mono now)
{
    struct outputs *retired = switching->retired;
    switching->news = outputs_turn(switching->outputs, now);
    if (!retired)
        return;
    outputs_turn(retired, now);
    if (outputs_busy(retired) ||
        (!outputs_confirmed(retired) && now.ms < switching->retired_until.ms))
        return;
    outputs_free(retired);
    switching->retired = NULL;
}

/* ---- at a reload ------------------------------------------------------------------------- */

static bool is_used(const struct settings *settings, const struct output_settings *output)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (output_same_place(&settings->outputs[i], output))
            return true;
    return false;
}

bool switching_is_same(const struct settings *a, const struct settings *b)
{
    uint16_t count = a->rules.load_count;
    if (count != b->rules.load_count ||
        memcmp(a->outputs, b->outputs, count * sizeof(a->outputs[0])) != 0)
        return false;
    for (uint16_t i = 0; i < count; i++)
        if (strcmp(a->names[i].name, b->names[i].name) != 0)
            return false;
    return true;
}

void switching_retire(struct switching *switching, const struct settings *after, bool buses_stay)
{
    const struct settings *before = switching->common->settings;
    struct mono now = switching->common->now.mono;
    struct output_settings gone[SETTINGS_LOADS_MAX];
    uint16_t count = 0;
    struct trouble trouble;
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        if (!is_used(after, &before->outputs[i]))
            gone[count++] = before->outputs[i];
    }
    if (count == 0)
        return;
    struct outputs *retired = open_outputs(switching, gone, count, JOB_RETIRED, &trouble);
    if (!retired)
        return;
    outputs_fail_state(retired, now);
    outputs_turn(retired, now);
    if (switching->retired)
        outputs_free(switching->retired);
    switching->retired = retired;
    switching->retired_until = mono_after(now, RETIRED_MS);
    if (buses_stay)
        return;
    outputs_free(retired); /* its writes are queued; the old buses do them before they end */
    switching->retired = NULL;
}

/* The same load on the same wire; where the bus stands in the list does not matter. */
static bool same_output(const struct output_settings *a, const struct output_settings *b)
{
    struct output_settings moved = *b;
    moved.bus_index = a->bus_index;
    return memcmp(a, &moved, sizeof(moved)) == 0;
}

/* Nothing is switched by it: what is known and wanted of an output that is wired as it was goes
 * on, and a new one is asked for what it has. */
bool switching_replace(struct switching *switching, const struct settings *before,
                       struct trouble *trouble)
{
    const struct settings *after = switching->common->settings;
    struct outputs *old = switching->outputs, *outputs = open_all(switching, trouble);
    if (!outputs)
        return false;
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        int i = settings_find_load(before, after->names[j].name);
        if (i >= 0 && same_output(&before->outputs[i], &after->outputs[j]))
            outputs_take_over(outputs, j, old, (uint16_t)i, switching->common->now.mono);
    }
    switching->outputs = outputs;
    outputs_free(old);
    return true;
}

void switching_end(struct switching *switching)
{
    if (switching->retired)
        outputs_free(switching->retired);
    if (switching->outputs)
        outputs_free(switching->outputs);
}
