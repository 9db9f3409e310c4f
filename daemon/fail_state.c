/* fail_state.c - the stop helper: brings every output to its fail state and ends.
 *
 * Run by the unit after the daemon has gone, however it went; after a clean stop it
 * finds nothing to do and does it again, which harms nothing. It needs the settings
 * and the buses only, no clock, no ledger. It goes on until each output is confirmed
 * or its time is up, and nothing rests meanwhile: a board that is disturbed, or a broker
 * that is not connected to yet, is tried again several times a second. */
#include "fail_state.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>

#include "lines.h"
#include "loop/clock.h"
#include "loop/log.h"
#include "output/backend.h"
#include "publish.h"
#include "switching.h"

enum { STEP_MS = 500, REPORTS_MAX = 32, SHORTEST_REST_MS = 1 };

/* No more of the site than outputs need. */
struct stop_helper {
    struct common common;
    struct lines lines;
    struct switching switching;
    struct broker broker;
    struct clock *clock;
};

static bool any_on_broker(const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (backend_of(&settings->outputs[i])->on_broker)
            return true;
    return false;
}

static void ask_without_rest(const struct lines *lines, const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        const struct output_settings *output = &settings->outputs[i];
        if (backend_of(output)->on_bus)
            bus_limit_rests(lines->buses[output->bus_index], output->unit, 0, SHORTEST_REST_MS);
    }
}

/* Until something is due, an answer or a report has come, or time is up. */
static void wait_for_news(const struct stop_helper *helper, struct mono give_up)
{
    struct pollfd boxes[] = {{.fd = mailbox_fd(helper->lines.answers), .events = POLLIN},
                             {.fd = mailbox_fd(helper->broker.inbox), .events = POLLIN}};
    struct mono until = mono_earlier(outputs_next(helper->switching.outputs), give_up);
    int64_t wait_ms = mono_since_ms(until, helper->common.now.mono);
    poll(boxes, sizeof(boxes) / sizeof(boxes[0]),
         wait_ms < 0 ? 0 : (int)(wait_ms < STEP_MS ? wait_ms : STEP_MS));
}

static void take_news(struct stop_helper *helper)
{
    struct bus_answer answer;
    struct mqtt_message message;
    while (mailbox_take(helper->lines.answers, &answer)) {
        answer.id &= JOB_ID_MASK;
        outputs_answer(helper->switching.outputs, &answer);
    }
    while (mailbox_take(helper->broker.inbox, &message))
        if (message.property < 0) /* orders are nobody's any more */
            outputs_state_message(helper->switching.outputs, message.topic, message.value,
                                  message.length, helper->common.now.mono);
}

static void drive(struct stop_helper *helper, int64_t time_ms)
{
    bool ended;
    clock_take(helper->clock, &helper->common.now, &ended);
    struct mono give_up = mono_after(helper->common.now.mono, time_ms);
    outputs_fail_state(helper->switching.outputs, helper->common.now.mono);
    while (!outputs_confirmed(helper->switching.outputs) &&
           helper->common.now.mono.ms < give_up.ms) {
        outputs_turn(helper->switching.outputs, helper->common.now.mono);
        wait_for_news(helper, give_up);
        clock_take(helper->clock, &helper->common.now, &ended);
        take_news(helper);
    }
}

static void report(const struct outputs *outputs, const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++) {
        const char *detail = outputs_detail(outputs, i);
        log_line(LOG_LEVEL_NOTICE, "%s: fail state %s%s%s", settings->names[i].name,
                 output_health_text(outputs_confirmation(outputs, i).health), detail[0] ? ": " : "",
                 detail);
    }
}

/* The house described to the broker as the daemon does, and nothing known of it. */
static struct values_view view_of_unknown(const struct settings *settings)
{
    static const struct reading reading;
    static const struct load_reading load_reading[SETTINGS_LOADS_MAX];
    static const struct rules_memory memory;
    static const struct decision decisions[SETTINGS_LOADS_MAX];
    static const struct bus_quality buses[SETTINGS_BUSES_MAX];
    static const struct gateway_state gateway;
    return (struct values_view){.settings = settings,
                                .reading = &reading,
                                .load_reading = load_reading,
                                .spare_w = INT32_MIN,
                                .memory = &memory,
                                .decisions = decisions,
                                .buses = buses,
                                .gateway = &gateway};
}

/* A worker may still wait for a board that does not answer: its end is the program's,
 * since the time is up. */
static void leave(const struct stop_helper *helper, bool at_once)
{
    if (helper->common.mqtt)
        mqtt_stop(helper->common.mqtt);
    for (uint8_t k = 0; k < helper->common.settings->bus_count && !at_once; k++)
        bus_free(helper->lines.buses[k]);
}

int fail_state_run(struct settings *settings, int64_t time_ms)
{
    static struct stop_helper helper; /* too large for a stack */
    struct trouble trouble;
    helper.common.settings = settings;
    helper.clock = clock_system(&trouble);
    helper.lines.answers = mailbox_new(128 * SETTINGS_BUSES_MAX, sizeof(struct bus_answer));
    helper.broker.inbox = mailbox_new(REPORTS_MAX, sizeof(struct mqtt_message));
    if (!helper.clock || !helper.lines.answers || !helper.broker.inbox ||
        !lines_open(&helper.lines, &helper.common, &trouble) ||
        !switching_open(&helper.switching, &helper.lines, &helper.common, &trouble)) {
        log_line(LOG_LEVEL_ERROR, "fail state: %s", trouble.text);
        return EXIT_FAILURE;
    }
    ask_without_rest(&helper.lines, settings);
    if (any_on_broker(settings)) {
        struct values_view view = view_of_unknown(settings);
        publish_start(&helper.broker, &helper.common, &view);
        publish_listen(&helper.common);
    }
    drive(&helper, time_ms);
    bool confirmed = outputs_confirmed(helper.switching.outputs);
    report(helper.switching.outputs, settings);
    leave(&helper, !confirmed);
    return confirmed ? EXIT_SUCCESS : EXIT_FAILURE;
}
