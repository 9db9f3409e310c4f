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
#include "control.h"
#include "gateway.h"
#include "jobs.h"
#include "learn.h"
#include "loop/log.h"
#include "publish.h"
#include "reload.h"
#include "remember.h"
#include "wiring.h"

enum { ANSWERS_MAX = 128 * SETTINGS_BUSES_MAX, ORDERS_MAX = SETTINGS_LOADS_MAX * 4 + 8 };

/* A simulated day must come out the same each time. */
static uint64_t make_seed(const struct site *site)
{
    uint64_t seed = 1;
    if (!clock_is_granted(site->clock) && getrandom(&seed, sizeof(seed), GRND_NONBLOCK) < 0)
        seed = (uint64_t)site->now.wall.ms;
    return seed;
}

bool site_start(struct site *site, struct settings *settings, struct trouble *trouble)
{
    site->settings = settings;
    site->started = site->now.mono;
    site->answers = mailbox_new(ANSWERS_MAX, sizeof(struct bus_answer));
    site->inbox = mailbox_new(ORDERS_MAX, sizeof(struct mqtt_message));
    if (!control_open(site, trouble))
        return false; /* before there is an output that its end would switch off */
    char boot[BOOT_ID_SIZE];
    remember_boot_id(site, boot);
    site->ledger = ledger_open(&settings->ledger, boot);
    if (!site->answers || !site->inbox || !site->ledger)
        return trouble_set(trouble, "", "out of memory");
    rules_begin(&settings->rules, &site->memory, site->loads, site->now, make_seed(site));
    remember_restore(site);
    if (!learn_begin(site))
        return trouble_set(trouble, "", "out of memory");
    if (!wiring_open_buses(site, trouble) || !wiring_open_outputs(site, trouble))
        return false;
    gateway_begin(site);
    publish_start(site);
    publish_listen(site);
    outputs_probe(site->outputs, site->now.mono);
    return true;
}

static void take_last_answers(struct site *site)
{
    struct bus_answer answer;
    while (outputs_busy(site->outputs) && site->under_way > 0) {
        mailbox_wait(site->answers);
        while (mailbox_take(site->answers, &answer)) {
            if (job_take(site, &answer))
                outputs_answer(site->outputs, &answer);
        }
    }
}

/* The snapshot first: boards that do not answer may take longer than the service manager
 * waits. */
void site_stop(struct site *site)
{
    if (site->ledger && site->memory.begun)
        remember_stop(site);
    if (site->outputs) {
        outputs_fail_state(site->outputs, site->now.mono);
        outputs_turn(site->outputs, site->now.mono);
        take_last_answers(site);
    }
    control_close(site);
    if (site->mqtt)
        mqtt_stop(site->mqtt);
    gateway_end(site);
    for (int k = 0; k < SETTINGS_BUSES_MAX; k++)
        if (site->buses[k])
            bus_free(site->buses[k]);
    reload_wait(site);
    accepted_wait(site);
    if (site->retired)
        outputs_free(site->retired);
    if (site->outputs)
        outputs_free(site->outputs);
    if (site->ledger)
        ledger_close(site->ledger);
    learn_end(site);
    mailbox_free(site->answers);
    mailbox_free(site->inbox);
    settings_free(site->settings);
}
