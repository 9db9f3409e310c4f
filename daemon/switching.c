/* switching.c - the outputs among their edges: what they need of buses and broker, and how they
 * come through a reload. Nothing is switched by one but what is wired to nothing any more. */
#include "switching.h"

#include <string.h>

#include "site.h"

enum { RETIRED_MS = MS_PER_MIN }; /* for the outputs of loads that are gone */

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    return job_post(&((struct site *)context)->lines, bus_index, job);
}

static bool publish(void *context, const char *topic, const char *payload)
{
    struct site *site = context;
    return site->common.mqtt && mqtt_send(site->common.mqtt, topic, payload);
}

static struct output_doors doors_of(struct site *site)
{
    return (struct output_doors){.context = site, .post = post, .publish = publish};
}

bool switching_open(struct site *site, struct trouble *trouble)
{
    struct output_doors doors = doors_of(site);
    const struct settings *settings = site->common.settings;
    site->switching.outputs =
        outputs_new(settings->outputs, settings->rules.load_count, JOB_OUTPUTS, &doors, trouble);
    return site->switching.outputs != NULL;
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

void switching_retire(struct site *site, const struct settings *after, bool buses_stay)
{
    const struct settings *before = site->common.settings;
    struct output_settings gone[SETTINGS_LOADS_MAX];
    uint16_t count = 0;
    struct trouble trouble;
    for (uint16_t i = 0; i < before->rules.load_count; i++) {
        if (!is_used(after, &before->outputs[i]))
            gone[count++] = before->outputs[i];
    }
    if (count == 0)
        return;
    struct output_doors doors = doors_of(site);
    struct outputs *retired = outputs_new(gone, count, JOB_RETIRED, &doors, &trouble);
    if (!retired)
        return;
    outputs_fail_state(retired, site->common.now.mono);
    outputs_turn(retired, site->common.now.mono);
    if (site->switching.retired)
        outputs_free(site->switching.retired);
    site->switching.retired = retired;
    site->switching.retired_until = mono_after(site->common.now.mono, RETIRED_MS);
    if (buses_stay)
        return;
    outputs_free(retired); /* its writes are queued; the old buses do them before they end */
    site->switching.retired = NULL;
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
bool switching_replace(struct site *site, const struct settings *before, struct trouble *trouble)
{
    const struct settings *after = site->common.settings;
    struct outputs *old = site->switching.outputs;
    if (!switching_open(site, trouble)) {
        site->switching.outputs = old;
        return false;
    }
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        int i = settings_find_load(before, after->names[j].name);
        if (i >= 0 && same_output(&before->outputs[i], &after->outputs[j]))
            outputs_take_over(site->switching.outputs, j, old, (uint16_t)i, site->common.now.mono);
    }
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
