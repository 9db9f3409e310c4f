/* world.c - see world.h. */
#include "output/world.h"
#include "output/own.h"

#include <check.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

static bool post(void *context, uint8_t bus_index, const struct bus_job *job)
{
    struct world *world = context;
    ck_assert_uint_eq(bus_index, 3);
    ck_assert_uint_lt(world->posted_count, POSTED_MAX);
    ck_assert_int_ge(job->id, JOB_BASE);
    ck_assert_int_lt(job->id, JOB_BASE + 65536);
    if (world->full) {
        return false;
    }
    world->posted[world->posted_count++] = *job;
    return true;
}

static bool publish(void *context, const char *topic, const char *payload)
{
    struct world *world = context;
    if (!world->broker) {
        return false;
    }
    world->published++;
    snprintf(world->topic, sizeof world->topic, "%s", topic);
    snprintf(world->payload, sizeof world->payload, "%s", payload);
    return true;
}

struct output_settings a_coil(void)
{
    return (struct output_settings){.kind = OUTPUT_COIL,
                                    .bus = "relays",
                                    .bus_index = 3,
                                    .unit = 5,
                                    .address = {2},
                                    .contactors = 1,
                                    .read_back = true};
}

struct output_settings a_topic(const char *state_topic)
{
    struct output_settings settings = {.kind = OUTPUT_TOPIC, .contactors = 1};
    own_text(&settings, "topic", "plug/set");
    own_text(&settings, "state_topic", state_topic);
    own_text(&settings, "on_payload", "ON");
    own_text(&settings, "off_payload", "OFF");
    return settings;
}

struct output_doors world_doors(struct world *world)
{
    return (struct output_doors){.context = world, .post = post, .publish = publish};
}

struct world *world_new(struct output_settings settings)
{
    struct trouble trouble = {.text = ""};
    struct world *world = calloc(1, sizeof *world);
    const struct output_doors doors = world_doors(world);
    world->now.ms = 5000;
    world->broker = true;
    world->outputs = outputs_new(&settings, 1, JOB_BASE, &doors, &trouble);
    ck_assert_msg(world->outputs != NULL, "%s", trouble.text);
    return world;
}

void world_free(struct world *world)
{
    outputs_free(world->outputs);
    free(world);
}

static void obey(struct world *world, const struct bus_job *job)
{
    uint16_t value = job->value[0];
    if (world->manner == OBEYS || world->manner == READS_OFF) {
        world->value[job->address] = value;
    } else if (world->manner == HALVES) {
        world->value[job->address] = value / 2;
    }
}

static struct bus_answer answer_to(struct world *world, const struct bus_job *job)
{
    bool write = job->kind == BUS_WRITE_COIL || job->kind == BUS_WRITE_REGISTERS;
    struct bus_answer answer = {.id = job->id, .kind = job->kind, .now = job->now, .count = 1};
    if (world->manner == SILENT) {
        answer.outcome = BUS_TIMEOUT;
        strcpy(answer.detail, "unit 5 is silent");
    } else if (world->manner == RESTING) {
        answer.outcome = BUS_BACKING_OFF;
        strcpy(answer.detail, "unit 5 is left alone");
        return answer;
    } else if (world->manner == REFUSES) {
        answer.outcome = BUS_EXCEPTION;
        strcpy(answer.detail, "unit 5 says no");
    } else if (write) {
        obey(world, job);
    }
    world->reads += !write;
    if (write) {
        world->written[world->written_count++ % POSTED_MAX] = *job;
    }
    answer.value[0] = world->manner == READS_OFF ? 0 : world->value[job->address];
    return answer;
}

bool settle(struct world *world)
{
    bool news = outputs_turn(world->outputs, world->now);
    while (world->posted_count > 0) {
        struct bus_job job = world->posted[0];
        memmove(world->posted, world->posted + 1, --world->posted_count * sizeof job);
        struct bus_answer answer = answer_to(world, &job);
        news |= outputs_answer(world->outputs, &answer);
    }
    ck_assert(!outputs_busy(world->outputs));
    return news;
}

bool pass(struct world *world, int64_t ms)
{
    world->now = mono_after(world->now, ms);
    return settle(world);
}

bool want(struct world *world, int32_t level_w, uint8_t stage)
{
    outputs_want(world->outputs, 0, level_w, stage, world->now);
    return settle(world);
}

void assert_state(const struct world *world, enum output_health health, int32_t level_w)
{
    struct confirmation confirmation = outputs_confirmation(world->outputs, 0);
    ck_assert_msg(confirmation.health == health, "health %d: %s", (int)confirmation.health,
                  outputs_detail(world->outputs, 0));
    ck_assert_int_eq(confirmation.level_w, level_w);
}

bool report(struct world *world, const char *payload)
{
    return outputs_state_message(world->outputs, "plug/state", payload, strlen(payload),
                                 world->now);
}
