/* bus.c - the worker: takes jobs, does them one at a time, answers every one.
 *
 * libmodbus blocks and the loop may not, so each line has its thread, and
 * between the two go only plain values. What is known of the line and of its
 * units belongs to the worker alone; the loop sees answers and one counter. */
#include "bus/bus.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "bus/line.h"
#include "bus/meter_reading.h"
#include "bus/pass_tap.h"
#include "bus/sniffer.h"
#include "loop/thread.h"

enum { JOBS_MAX = 128 };

enum errand_kind {
    ERRAND_NONE, /* only wakes the worker, to see that it is to end */
    ERRAND_JOB,
    ERRAND_PASS, /* a question of somebody else's, which waits at the tap */
};

struct errand {
    enum errand_kind kind;
    struct bus_job job;
};

struct bus {
    struct line *line;
    struct sniffer *sniffer; /* of a bus that is only listened to; else NULL */
    struct quality quality;
    struct mailbox *errands, *answers;
    pthread_t worker;
    atomic_bool ending;
    _Atomic uint64_t progress;
    uint8_t meter_count;
    struct metered meter[BUS_METERS_MAX];
    struct pass_tap tap;
    struct mono now; /* of the last job: the worker's only time */
};

static enum frame_function function_of(const struct bus_job *job)
{
    switch (job->kind) {
    case BUS_READ_COIL:
        return READ_COILS;
    case BUS_READ_DISCRETE:
        return READ_DISCRETE;
    case BUS_WRITE_COIL:
        return WRITE_COIL;
    case BUS_WRITE_REGISTERS:
        return job->count == 1 ? WRITE_REGISTER : WRITE_REGISTERS;
    case BUS_READ_REGISTERS:
    case BUS_READ_METER:
        break;
    }
    return job->table == METER_INPUT ? READ_INPUT : READ_HOLDING;
}

static void do_exchange(struct bus *bus, const struct bus_job *job, struct bus_answer *answer)
{
    struct exchange exchange = {.unit = job->unit,
                                .function = function_of(job),
                                .address = job->address,
                                .count = job->count};
    memcpy(exchange.value, job->value, sizeof job->value);
    line_exchange(bus->line, &exchange, job->now);
    answer->outcome = exchange.outcome;
    answer->exception = exchange.exception;
    answer->took_us = exchange.took_us;
    memcpy(answer->detail, exchange.detail, sizeof answer->detail);
    if (exchange.outcome == BUS_OK) {
        answer->count = job->count;
        memcpy(answer->value, exchange.value, sizeof answer->value);
    }
}

/* The loop empties its box every turn; should it be full all the same, the
 * answer waits, since somebody waits for it. Nobody does once we are ending. */
static void post_answer(struct bus *bus, const struct bus_answer *answer)
{
    const struct timespec pause = {.tv_nsec = 1000000};
    while (!mailbox_put(bus->answers, answer) && !atomic_load(&bus->ending)) {
        nanosleep(&pause, NULL);
    }
}

static void do_job(struct bus *bus, const struct bus_job *job)
{
    struct bus_answer answer = {
        .id = job->id, .kind = job->kind, .unit = job->unit, .meter = job->meter, .now = job->now};
    if (job->kind == BUS_READ_METER && bus->sniffer) {
        answer.unit = bus->meter[job->meter].unit;
        sniffer_answer(bus->sniffer, job->meter, &answer);
    } else if (job->kind == BUS_READ_METER) {
        struct metered *meter = &bus->meter[job->meter];
        answer.unit = meter->unit;
        metered_read(meter, bus->line, job->totals, job->now, &answer);
    } else {
        do_exchange(bus, job, &answer);
    }
    atomic_fetch_add(&bus->progress, 1);
    post_answer(bus, &answer);
}

static void do_all(struct bus *bus)
{
    struct errand errand;
    while (mailbox_take(bus->errands, &errand)) {
        if (errand.kind == ERRAND_JOB) {
            bus->now = errand.job.now;
            do_job(bus, &errand.job);
        } else if (errand.kind == ERRAND_PASS) {
            pass_ask(&bus->tap, bus->line, bus->now, &bus->ending);
        }
    }
}

/* `ending` is set before the errand that wakes is put, and looked at after the box
 * was emptied: so no wait can begin after that errand was taken. */
static void *work(void *argument)
{
    struct bus *bus = argument;
    while (!atomic_load(&bus->ending)) {
        if (bus->sniffer)
            sniffer_wait(bus->sniffer, bus->errands);
        else
            mailbox_wait(bus->errands);
        do_all(bus);
    }
    do_all(bus);
    return NULL;
}

static void release(struct bus *bus)
{
    sniffer_free(bus->sniffer);
    line_free(bus->line);
    mailbox_free(bus->errands);
    pass_tap_end(&bus->tap);
    quality_end(&bus->quality);
    free(bus);
}

struct bus *bus_new(const struct bus_settings *settings, struct mailbox *answers,
                    struct trouble *trouble)
{
    struct bus *bus = calloc(1, sizeof *bus);
    if (!bus) {
        trouble_set(trouble, settings->name, "no memory for a bus");
        return NULL;
    }
    bus->answers = answers;
    bool tapped = pass_tap_begin(&bus->tap);
    quality_begin(&bus->quality);
    bus->line = line_new(settings, &bus->quality, trouble);
    if (bus->line && settings->mode == BUS_LISTEN)
        bus->sniffer = sniffer_new(settings, &bus->quality, &bus->tap, trouble);
    if (!bus->line || (settings->mode == BUS_LISTEN && !bus->sniffer)) {
        release(bus);
        return NULL;
    }
    bus->errands = mailbox_new(JOBS_MAX, sizeof(struct errand));
    if (!bus->errands || !tapped || !thread_start(&bus->worker, work, bus)) {
        trouble_set(trouble, settings->name, "no memory or no thread for a bus");
        release(bus);
        return NULL;
    }
    return bus;
}

uint8_t bus_add_meter(struct bus *bus, uint8_t unit, const struct meter_map *map,
                      enum sunspec_wanted wanted)
{
    if (bus->meter_count == BUS_METERS_MAX) {
        return BUS_NO_METER;
    }
    metered_begin(&bus->meter[bus->meter_count], unit, map, wanted);
    bus->meter[bus->meter_count].tap = &bus->tap;
    if (bus->sniffer)
        sniffer_add_meter(bus->sniffer, unit, map);
    return bus->meter_count++;
}

void bus_limit_rests(struct bus *bus, uint8_t unit, int64_t grace_ms, int64_t rest_most_ms)
{
    line_limit_rests(bus->line, unit, grace_ms, rest_most_ms);
}

static bool makes_sense(const struct bus *bus, const struct bus_job *job)
{
    switch (job->kind) {
    case BUS_READ_METER:
        return job->meter < bus->meter_count;
    case BUS_WRITE_COIL:
        return job->count == 1;
    case BUS_READ_COIL:
    case BUS_READ_DISCRETE:
    case BUS_READ_REGISTERS:
    case BUS_WRITE_REGISTERS:
        return job->count >= 1 && job->count <= BUS_VALUES_MAX;
    }
    return false;
}

bool bus_post(struct bus *bus, const struct bus_job *job)
{
    const struct errand errand = {.kind = ERRAND_JOB, .job = *job};
    return makes_sense(bus, job) && mailbox_put(bus->errands, &errand);
}

void bus_pass_tell(struct bus *bus, struct mailbox *news, uint8_t number)
{
    pass_tap_lead(&bus->tap, news, number);
}

/* The question is at the tap before the errand that sends the worker there; where
 * there is no room for the errand, it is fetched back unless an earlier errand has. */
bool bus_pass_post(struct bus *bus, const struct pass_question *question)
{
    const struct errand errand = {.kind = ERRAND_PASS};
    struct pass_question unwanted;
    if (!request_can_pass(question->pdu, question->length) ||
        !mailbox_put(bus->tap.questions, question)) {
        return false;
    }
    return mailbox_put(bus->errands, &errand) || !mailbox_take(bus->tap.questions, &unwanted);
}

void bus_quality(struct bus *bus, struct bus_quality *quality)
{
    quality_read(&bus->quality, quality);
}

uint64_t bus_progress(const struct bus *bus)
{
    return atomic_load(&bus->progress);
}

void bus_free(struct bus *bus)
{
    if (!bus) {
        return;
    }
    const struct errand wake = {.kind = ERRAND_NONE};
    atomic_store(&bus->ending, true);
    mailbox_put(bus->errands, &wake); /* refused where full: then it is awake */
    pthread_join(bus->worker, NULL);
    release(bus);
}

const char *bus_outcome_text(enum bus_outcome outcome)
{
    static const char *const text[] = {
        [BUS_OK] = "answered",
        [BUS_TIMEOUT] = "silent",
        [BUS_CORRUPT] = "corrupt answer",
        [BUS_EXCEPTION] = "refused",
        [BUS_DOWN] = "no connection",
        [BUS_BACKING_OFF] = "does not answer, waiting before the next try",
        [BUS_NOT_FOUND] = "not found",
        [BUS_UNHEARD] = "no data",
        [BUS_LISTENING] = "listen-only",
    };
    return text[outcome];
}
