/* start.c - how the site comes up, and how it goes.
 *
 * Up: the control socket first, which tells whether another daemon is at work here
 * already; then memory, so that nothing that was counted is lost; then the outputs are
 * asked for their state without switching; then the broker.
 * Down: the last snapshot, every output to its fail state, the good-byes. */
#include "start.h"

#include <stdlib.h>
#include <string.h>
#include <sys/random.h>

#include "accepted.h"
#include "board.h"
#include "control.h"
#include "gateway.h"
#include "lamp.h"
#include "learn.h"
#include "lines.h"
#include "loop/log.h"
#include "publish.h"
#include "reload.h"
#include "remember.h"
#include "site.h"
#include "status.h"
#include "thermometers.h"

enum { ANSWERS_MAX = 128 * SETTINGS_BUSES_MAX, ORDERS_MAX = SETTINGS_LOADS_MAX * 4 + 8 };

/* A simulated day must come out the same each time. */
static uint64_t make_seed(const struct clock *clock, struct wall now)
{
    uint64_t seed = 1;
    if (!clock_is_granted(clock) && getrandom(&seed, sizeof(seed), GRND_NONBLOCK) < 0)
        seed = (uint64_t)now.ms;
    return seed;
}

bool site_start(struct site *site, struct settings *settings, struct trouble *trouble)
{
    site->common.settings = settings;
    site->common.started = site->common.now.mono;
    site->lines.answers = mailbox_new(ANSWERS_MAX, sizeof(struct bus_answer));
    site->broker.inbox = mailbox_new(ORDERS_MAX, sizeof(struct mqtt_message));
    if (!control_open(&site->socket, settings->control_socket, trouble))
        return false; /* before there is an output that its end would switch off */
    char boot[BOOT_ID_SIZE];
    remember_boot_id(site->clock, boot);
    site->common.ledger = ledger_open(&settings->ledger, boot);
    if (!site->lines.answers || !site->broker.inbox || !site->common.ledger)
        return trouble_set(trouble, "", "out of memory");
    rules_begin(&settings->rules, &site->engine.memory, site->engine.loads, site->common.now,
                make_seed(site->clock, site->common.now.wall));
    remember_restore(&site->kept, &site->engine, &site->inputs, &site->common, boot);
    if (!learn_begin(&site->kept, &site->engine, &site->common))
        return trouble_set(trouble, "", "out of memory");
    faults_begin(&site->faults, &site->common, remember_away_ms(&site->common, boot));
    on_fault_begin(&site->on_fault, &site->common);
    if (!lines_open(&site->lines, &site->common, trouble))
        return false;
    meters_begin(&site->inputs, &site->lines, &site->common);
    if (!switching_open(&site->switching, &site->lines, &site->common, trouble))
        return false;
    if (!board_open(&site->board, &site->lines, &site->common, trouble))
        return false;
    if (!thermometers_open(&site->thermometers, &site->common, trouble))
        return false;
    if (!lamp_open(&site->lamp, &site->lines, &site->common, trouble))
        return false;
    gateway_begin(&site->serving, &site->lines, &site->common);
    struct values_view view = status_view(site);
    publish_start(&site->broker, &site->common, &view);
    publish_listen(&site->common);
    thermometers_listen(&site->common);
    outputs_probe(site->switching.outputs, site->common.now.mono);
    return true;
}

static void take_last_answers(struct lines *lines, struct outputs *outputs)
{
    struct bus_answer answer;
    while (outputs_busy(outputs) && lines->under_way > 0) {
        mailbox_wait(lines->answers);
        while (mailbox_take(lines->answers, &answer)) {
            if (job_take(lines, &answer))
                outputs_answer(outputs, &answer);
        }
    }
}

/* The snapshot first: boards that do not answer may take longer than the service manager
 * waits. */
void site_stop(struct site *site)
{
    if (site->common.ledger && site->engine.memory.begun)
        remember_stop(&site->kept, &site->engine, &site->faults, &site->on_fault, &site->inputs,
                      &site->common);
    if (site->switching.outputs) {
        outputs_fail_state(site->switching.outputs, site->common.now.mono);
        outputs_turn(site->switching.outputs, site->common.now.mono);
        lamp_off(&site->lamp, site->common.now.mono);
        take_last_answers(&site->lines, site->switching.outputs);
    }
    if (site->common.settings)
        control_close(&site->socket, site->common.settings->control_socket);
    if (site->common.mqtt)
        mqtt_stop(site->common.mqtt);
    gateway_end(&site->serving, &site->common);
    for (int k = 0; k < SETTINGS_BUSES_MAX; k++)
        if (site->lines.buses[k])
            bus_free(site->lines.buses[k]);
    reload_wait(&site->closing);
    on_fault_end(&site->on_fault);
    accepted_wait(&site->files, &site->common);
    switching_end(&site->switching);
    board_end(&site->board);
    thermometers_end(&site->thermometers);
    lamp_end(&site->lamp);
    if (site->common.ledger)
        ledger_close(site->common.ledger);
    learn_end(&site->kept);
    mailbox_free(site->lines.answers);
    mailbox_free(site->broker.inbox);
    settings_free(site->common.settings);
}
