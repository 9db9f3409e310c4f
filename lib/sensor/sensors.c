/* sensors.c - when each is read, by the thread, and what becomes of what it says.
 *
 * Between the loop and the thread go only two mailboxes of plain values. Each sensor has one
 * question under way at most, so that one that never answers keeps its place in the queue and
 * nothing else grows. */
#include "sensor/sensors.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "loop/thread.h"
#include "sensor/kind.h"

enum { STOP = 0xff };

struct sensor {
    struct sensor_settings settings;
    const struct sensor_kind *kind;
    bool asked;
    struct mono due, begun;
    struct sensor_memory memory;
    uint32_t sequence;
    enum sensor_fault fault;
    char detail[SENSOR_DETAIL_MAX];
};

struct sensors {
    uint8_t round, count;
    int under_way;
    struct mailbox *answers;
    struct mailbox *questions; /* uint8_t: a sensor's index, or STOP; NULL: none is read */
    pthread_t thread;
    struct sensor sensor[];
};

/* ---- the thread: it reads the settings and the two mailboxes, nothing else --------------------
 */

static void read_one(const struct sensors *sensors, uint8_t index)
{
    const struct sensor *sensor = &sensors->sensor[index];
    struct trouble trouble = {.text = ""};
    struct sensor_answer answer = {.round = sensors->round, .index = index};
    struct text detail = text_in(answer.detail, sizeof answer.detail);
    answer.read = sensor->kind->read(&sensor->settings, &answer.mc, &trouble);
    if (!answer.read)
        text_add(&detail, "%s", trouble.text);
    mailbox_put(sensors->answers, &answer); /* there is room: one answer to each question */
}

static void *read_all(void *context)
{
    const struct sensors *sensors = context;
    uint8_t index = 0;
    while (index != STOP) {
        mailbox_wait(sensors->questions);
        while (index != STOP && mailbox_take(sensors->questions, &index))
            if (index != STOP)
                read_one(sensors, index);
    }
    return NULL;
}

/* ---- birth and death --------------------------------------------------------------------------
 */

static bool any_is_read(const struct sensors *sensors)
{
    for (uint8_t k = 0; k < sensors->count; k++)
        if (sensors->sensor[k].kind->read)
            return true;
    return false;
}

static bool start_thread(struct sensors *sensors)
{
    sensors->questions = mailbox_new((size_t)sensors->count + 1, sizeof(uint8_t));
    if (sensors->questions && thread_start(&sensors->thread, read_all, sensors))
        return true;
    mailbox_free(sensors->questions);
    sensors->questions = NULL;
    return false;
}

struct sensors *sensors_new(const struct sensor_settings settings[], uint8_t count, uint8_t round,
                            struct mailbox *answers, struct mono now)
{
    struct sensors *sensors = calloc(1, sizeof *sensors + count * sizeof sensors->sensor[0]);
    if (!sensors)
        return NULL;
    sensors->round = round;
    sensors->count = count;
    sensors->answers = answers;
    for (uint8_t k = 0; k < count; k++) {
        struct sensor *sensor = &sensors->sensor[k];
        sensor->settings = settings[k];
        sensor->kind = sensor_kind_of(&settings[k]);
        sensor->due = sensor->begun = now;
    }
    if (any_is_read(sensors) && !start_thread(sensors)) {
        free(sensors);
        return NULL;
    }
    return sensors;
}

void sensors_free(struct sensors *sensors)
{
    const uint8_t stop = STOP;
    if (sensors && sensors->questions) {
        mailbox_put(sensors->questions, &stop);
        pthread_join(sensors->thread, NULL);
        mailbox_free(sensors->questions);
    }
    free(sensors);
}

bool sensor_is_same(const struct sensor_settings *a, const struct sensor_settings *b)
{
    struct sensor_settings moved = *b;
    moved.load_index = a->load_index;
    moved.every_ms = a->every_ms;
    moved.max_age_ms = a->max_age_ms;
    return memcmp(a, &moved, sizeof moved) == 0;
}

void sensors_take_over(struct sensors *sensors, uint8_t index, const struct sensors *from,
                       uint8_t index_before)
{
    struct sensor *sensor = &sensors->sensor[index];
    const struct sensor *before = &from->sensor[index_before];
    sensor->begun = before->begun;
    sensor->memory = before->memory;
    sensor->sequence = before->sequence;
    sensor->fault = before->fault;
    memcpy(sensor->detail, before->detail, sizeof sensor->detail);
}

/* ---- asking ------------------------------------------------------------------------------------
 */

void sensors_ask(struct sensors *sensors, struct mono now)
{
    for (uint8_t k = 0; k < sensors->count; k++) {
        struct sensor *sensor = &sensors->sensor[k];
        if (!sensor->kind->read || now.ms < sensor->due.ms)
            continue;
        sensor->due = mono_next_due(sensor->due, sensor->settings.every_ms, now);
        if (sensor->asked || !mailbox_put(sensors->questions, &k))
            continue;
        sensor->asked = true;
        sensors->under_way++;
    }
}

struct mono sensors_next(const struct sensors *sensors)
{
    struct mono next = MONO_NEVER;
    for (uint8_t k = 0; k < sensors->count; k++)
        if (sensors->sensor[k].kind->read)
            next = mono_earlier(next, sensors->sensor[k].due);
    return next;
}

int sensors_under_way(const struct sensors *sensors)
{
    return sensors->under_way;
}

/* ---- what comes --------------------------------------------------------------------------------
 */

static void take(struct sensor *sensor, int32_t mc, struct mono now)
{
    sensor->detail[0] = '\0';
    sensor->fault = sensor_judge(&sensor->memory, sensor->kind->power_on_mc, mc, now);
    sensor->sequence += sensor->fault == SENSOR_WELL;
}

static void fail(struct sensor *sensor, const char *why)
{
    struct text detail = text_in(sensor->detail, sizeof sensor->detail);
    if (sensor->fault != SENSOR_STUCK)
        sensor->fault = SENSOR_WELL; /* nothing was said that could be wrong */
    sensor->detail[0] = '\0';
    text_add(&detail, "%s", why);
}

void sensors_answer(struct sensors *sensors, const struct sensor_answer *answer, struct mono now)
{
    if (answer->round != sensors->round || answer->index >= sensors->count)
        return;
    struct sensor *sensor = &sensors->sensor[answer->index];
    sensor->asked = false;
    sensors->under_way--;
    if (answer->read)
        take(sensor, answer->mc, now);
    else
        fail(sensor, answer->detail);
}

void sensors_message(struct sensors *sensors, const char *topic, const char *payload, bool retained,
                     struct mono now)
{
    for (uint8_t k = 0; k < sensors->count; k++) {
        struct sensor *sensor = &sensors->sensor[k];
        struct trouble trouble;
        int32_t mc;
        if (retained || !sensor->kind->understand || strcmp(sensor->settings.topic, topic) != 0)
            continue;
        if (sensor->kind->understand(payload, &mc, &trouble))
            take(sensor, mc, now);
        else
            fail(sensor, trouble.text);
    }
}

/* ---- what is known ------------------------------------------------------------------------------
 */

int64_t sensor_fresh_ms(const struct sensor_settings *settings)
{
    return sensor_kind_of(settings)->read ? reading_fresh_ms(settings->every_ms)
                                          : settings->max_age_ms;
}

static enum reading_quality quality_of(const struct sensor *sensor, struct mono now)
{
    bool old = mono_since_ms(now, sensor->memory.taken) > sensor_fresh_ms(&sensor->settings);
    if (sensor->fault == SENSOR_STUCK)
        return READING_IMPLAUSIBLE;
    if (sensor->memory.read && !old)
        return READING_FRESH;
    if (sensor->fault != SENSOR_WELL)
        return READING_IMPLAUSIBLE;
    return sensor->memory.read ? READING_STALE : READING_ABSENT;
}

static bool is_troubled(const struct sensor *sensor, struct mono now)
{
    struct mono since = sensor->memory.read ? sensor->memory.taken : sensor->begun;
    return sensor->fault == SENSOR_STUCK ||
           mono_since_ms(now, since) > sensor_fresh_ms(&sensor->settings);
}

struct sensor_view sensors_view(const struct sensors *sensors, uint8_t index, struct mono now)
{
    const struct sensor *sensor = &sensors->sensor[index];
    return (struct sensor_view){.source = {.quality = quality_of(sensor, now),
                                           .sequence = sensor->sequence,
                                           .taken = sensor->memory.taken},
                                .mc = sensor->memory.mc,
                                .fault = sensor->fault,
                                .troubled = is_troubled(sensor, now),
                                .detail = sensor->detail};
}
