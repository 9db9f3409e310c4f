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
#include "loop/log.h"
#include "output/backend.h"
#include "publish.h"
#include "site.h"

enum { STEP_MS = 500, REPORTS_MAX = 32, SHORTEST_REST_MS = 1 };

static bool any_on_broker(const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (backend_of(&settings->outputs[i])->on_broker)
            return true;
    return false;
}

static void ask_without_rest(struct site *site)
{
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++) {
        const struct output_settings *output = &site->common.settings->outputs[i];
        if (backend_of(output)->on_bus)
            bus_limit_rests(site->lines.buses[output->bus_index], output->unit, 0,
                            SHORTEST_REST_MS);
    }
}

/* Until something is due, an answer or a report has come, or time is up. */
static void wait_for_news(const struct site *site, struct mono give_up)
{
    struct pollfd boxes[] = {{.fd = mailbox_fd(site->lines.answers), .events = POLLIN},
                             {.fd = mailbox_fd(site->broker.inbox), .events = POLLIN}};
    struct mono until = mono_earlier(outputs_next(site->switching.outputs), give_up);
    int64_t wait_ms = mono_since_ms(until, site->common.now.mono);
    poll(boxes, sizeof(boxes) / sizeof(boxes[0]),
         wait_ms < 0 ? 0 : (int)(wait_ms < STEP_MS ? wait_ms : STEP_MS));
}

static void take_news(struct site *site)
{
    struct bus_answer answer;
    struct mqtt_message message;
    while (mailbox_take(site->lines.answers, &answer)) {
        answer.id &= JOB_ID_MASK;
        outputs_answer(site->switching.outputs, &answer);
    }
    while (mailbox_take(site->broker.inbox, &message))
        if (message.property < 0) /* orders are nobody's any more */
            outputs_state_message(site->switching.outputs, message.topic, message.value,
                                  message.length, site->common.now.mono);
}

static void drive(struct site *site, int64_t time_ms)
{
    bool ended;
    clock_take(site->clock, &site->common.now, &ended);
    struct mono give_up = mono_after(site->common.now.mono, time_ms);
    outputs_fail_state(site->switching.outputs, site->common.now.mono);
    while (!outputs_confirmed(site->switching.outputs) && site->common.now.mono.ms < give_up.ms) {
        outputs_turn(site->switching.outputs, site->common.now.mono);
        wait_for_news(site, give_up);
        clock_take(site->clock, &site->common.now, &ended);
        take_news(site);
    }
}

static void report(const struct site *site)
{
    for (uint16_t i = 0; i < site->common.settings->rules.load_count; i++) {
        const char *detail = outputs_detail(site->switching.outputs, i);
        log_line(LOG_LEVEL_NOTICE, "%s: fail state %s%s%s", site->common.settings->names[i].name,
                 output_health_text(outputs_confirmation(site->switching.outputs, i).health),
                 detail[0] ? ": " : "", detail);
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
static void leave(struct site *site, bool at_once)
{
    if (site->common.mqtt)
        mqtt_stop(site->common.mqtt);
    for (uint8_t k = 0; k < site->common.settings->bus_count && !at_once; k++)
        bus_free(site->lines.buses[k]);
}

int fail_state_run(struct settings *settings, int64_t time_ms)
{
    static struct site site; /* as in main: too large for a stack */
    struct trouble trouble;
    site.common.settings = settings;
    site.socket.fd = -1;
    site.clock = clock_system(&trouble);
    site.lines.answers = mailbox_new(128 * SETTINGS_BUSES_MAX, sizeof(struct bus_answer));
    site.broker.inbox = mailbox_new(REPORTS_MAX, sizeof(struct mqtt_message));
    if (!site.clock || !site.lines.answers || !site.broker.inbox ||
        !lines_open(&site.lines, &site.common, &trouble) || !switching_open(&site, &trouble)) {
        log_line(LOG_LEVEL_ERROR, "fail state: %s", trouble.text);
        return EXIT_FAILURE;
    }
    ask_without_rest(&site);
    if (any_on_broker(settings)) {
        struct values_view view = view_of_unknown(settings);
        publish_start(&site.broker, &site.common, &view);
        publish_listen(&site.common);
    }
    drive(&site, time_ms);
    bool confirmed = outputs_confirmed(site.switching.outputs);
    report(&site);
    leave(&site, !confirmed);
    return confirmed ? EXIT_SUCCESS : EXIT_FAILURE;
}
