/* lamp.c - steady while there is heating, a blink while something is wrong.
 *
 * Heating is what the meter shows, not what was ordered. While something is wrong the lamp is
 * the other way round for a second in each five: so both can be read from it, and a relay, if
 * it must be one, wears slowly. */
#include "lamp.h"

#include <string.h>

#include "troubles.h"

enum { BLINK_EVERY_MS = 5000, BLINK_MS = 1000, OTHER_RANGE = 0x10000 };
#define LAMP_TROUBLE "lamp"

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    return job_post(((struct lamp *)context)->lines, bus_index, job);
}

static bool publish_nothing(void *context, const char *topic, const char *payload)
{
    (void)context;
    (void)topic;
    (void)payload;
    return false;
}

bool lamp_open(struct lamp *lamp, struct lines *lines, const struct common *common,
               struct trouble *trouble)
{
    const struct output_doors doors = {.context = lamp, .post = post, .publish = publish_nothing};
    lamp->lines = lines;
    lamp->outputs = NULL;
    if (!common->settings->lamp.enabled)
        return true;
    lamp->outputs = outputs_new(&common->settings->lamp.output, 1,
                                JOB_LAMP + (lamp->other_range ? OTHER_RANGE : 0), &doors, trouble);
    return lamp->outputs != NULL;
}

static bool draws(const struct engine *engine, uint16_t load)
{
    enum draw_state state = rules_draw(&engine->memory, load)->state;
    return state == DRAW_SEEN || state == DRAW_STUCK;
}

static bool is_heating(const struct engine *engine, const struct settings *settings)
{
    uint16_t load = settings->lamp.load_index;
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if ((load == LOAD_ALL || load == i) && draws(engine, i))
            return true;
    return false;
}

/* Besides its own trouble, which it can't show. */
static bool is_wrong(struct common *common)
{
    return common->trouble_count > (site_has_trouble(common, LAMP_TROUBLE) ? 1 : 0);
}

static void look(struct lamp *lamp, struct common *common)
{
    struct confirmation confirmation = outputs_confirmation(lamp->outputs, 0);
    const char *detail = outputs_detail(lamp->outputs, 0);
    if (confirmation.health == OUTPUT_FAILED || confirmation.health == OUTPUT_UNSAFE)
        site_trouble(common, LAMP_TROUBLE, "the lamp does not follow: %s",
                     detail[0] ? detail : output_health_text(confirmation.health));
    else if (confirmation.health == OUTPUT_CONFIRMED)
        site_solved(common, LAMP_TROUBLE);
}

void lamp_turn(struct lamp *lamp, const struct engine *engine, struct common *common)
{
    if (!lamp->outputs)
        return;
    bool blink = is_wrong(common) && common->now.mono.ms % BLINK_EVERY_MS < BLINK_MS;
    bool on = is_heating(engine, common->settings) != blink;
    outputs_want(lamp->outputs, 0, on ? 1 : 0, on ? 1 : 0, common->now.mono);
    outputs_turn(lamp->outputs, common->now.mono);
    look(lamp, common);
}

void lamp_answer(struct lamp *lamp, const struct bus_answer *answer)
{
    if (lamp->outputs)
        outputs_answer(lamp->outputs, answer);
}

/* Wired alike; where its bus stands in the list does not matter. */
static bool is_same(const struct lamp_settings *a, const struct lamp_settings *b)
{
    struct output_settings moved = b->output;
    moved.bus_index = a->output.bus_index;
    return a->enabled == b->enabled && memcmp(&a->output, &moved, sizeof(moved)) == 0;
}

bool lamp_replace(struct lamp *lamp, struct common *common, const struct settings *before,
                  bool buses_stay, struct trouble *trouble)
{
    const struct lamp_settings *after = &common->settings->lamp;
    if (is_same(&before->lamp, after) && buses_stay)
        return true;
    struct outputs *old = lamp->outputs;
    if (buses_stay)
        lamp_off(lamp, common->now.mono);
    site_unwatched(common, LAMP_TROUBLE);
    lamp->other_range = !lamp->other_range;
    bool opened = lamp_open(lamp, lamp->lines, common, trouble);
    if (old)
        outputs_free(old);
    return opened;
}

void lamp_off(struct lamp *lamp, struct mono now)
{
    if (!lamp->outputs)
        return;
    outputs_want(lamp->outputs, 0, 0, 0, now);
    outputs_turn(lamp->outputs, now);
}

void lamp_end(struct lamp *lamp)
{
    if (lamp->outputs)
        outputs_free(lamp->outputs);
    lamp->outputs = NULL;
}
