/* fail_state.c - the stop helper: brings every output to its fail state and ends.
 *
 * Run by the unit after the daemon has gone, however it went; after a clean stop it
 * finds nothing to do and does it again, which harms nothing. It needs the settings
 * and the buses only, no clock, no ledger. */
#include "fail_state.h"

#include <poll.h>
#include <stdlib.h>
#include <string.h>

#include "jobs.h"
#include "loop/log.h"
#include "publish.h"
#include "wiring.h"

enum { PATIENCE_MS = 10 * MS_PER_S, STEP_MS = 500 };

static bool any_on_broker(const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (settings->outputs[i].kind == OUTPUT_TOPIC)
            return true;
    return false;
}

static void take_answers(struct site *site, int wait_ms)
{
    struct pollfd box = {.fd = mailbox_fd(site->answers), .events = POLLIN};
    struct bus_answer answer;
    poll(&box, 1, wait_ms);
    while (mailbox_take(site->answers, &answer)) {
        answer.id &= JOB_ID_MASK;
        outputs_answer(site->outputs, &answer);
    }
}

static bool all_done(const struct site *site)
{
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++)
        if (outputs_confirmation(site->outputs, i).health != OUTPUT_CONFIRMED)
            return false;
    return true;
}

static void drive(struct site *site)
{
    bool ended;
    clock_take(site->clock, &site->now, &ended);
    struct mono give_up = mono_after(site->now.mono, PATIENCE_MS);
    outputs_fail_state(site->outputs, site->now.mono);
    while (!all_done(site) && site->now.mono.ms < give_up.ms) {
        outputs_turn(site->outputs, site->now.mono);
        take_answers(site, STEP_MS);
        clock_take(site->clock, &site->now, &ended);
    }
}

int fail_state_run(struct settings *settings)
{
    static struct site site; /* as in main: too large for a stack */
    struct trouble trouble;
    site.settings = settings;
    site.control_fd = -1;
    site.clock = clock_system(&trouble);
    site.answers = mailbox_new(128 * SETTINGS_BUSES_MAX, sizeof(struct bus_answer));
    site.inbox = mailbox_new(1, sizeof(struct mqtt_message));
    if (!site.clock || !site.answers || !site.inbox || !wiring_open_buses(&site, &trouble) ||
        !wiring_open_outputs(&site, &trouble)) {
        log_line(LOG_LEVEL_ERROR, "fail state: %s", trouble.text);
        return EXIT_FAILURE;
    }
    if (any_on_broker(settings))
        publish_start(&site);
    drive(&site);
    int status = all_done(&site) ? EXIT_SUCCESS : EXIT_FAILURE;
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        log_line(LOG_LEVEL_NOTICE, "%s: fail state %s%s%s", settings->names[i].name,
                 output_health_text(outputs_confirmation(site.outputs, i).health),
                 outputs_detail(site.outputs, i)[0] ? ": " : "", outputs_detail(site.outputs, i));
    if (site.mqtt)
        mqtt_stop(site.mqtt);
    for (uint8_t k = 0; k < settings->bus_count; k++)
        bus_free(site.buses[k]);
    return status;
}
