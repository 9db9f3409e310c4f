/* start.c - how the site comes up, and how it goes.
 *
 * Up: memory first, so that nothing that was counted is lost; then the outputs are
 * asked for their state without switching; then the broker and the control socket.
 * Down: every output to its fail state, the last snapshot, the good-byes. */
#include <stdlib.h>
#include <string.h>
#include <sys/random.h>

#include "loop/log.h"
#include "site.h"

enum { ANSWERS_MAX = 128 * SETTINGS_BUSES_MAX, ORDERS_MAX = 32 };

static bool post_job(void *context, uint8_t bus_index, const struct bus_job *job)
{
    struct site *site = context;
    struct bus_job marked = *job;
    marked.id = job_mark(job->id, bus_index, site->generation);
    if (!bus_post(site->buses[bus_index], &marked))
        return false;
    site->under_way++;
    site->bus_under_way[bus_index]++;
    return true;
}

static bool publish(void *context, const char *topic, const char *payload)
{
    struct site *site = context;
    return site->mqtt && mqtt_send(site->mqtt, topic, payload);
}

struct output_doors site_output_doors(struct site *site)
{
    return (struct output_doors){.context = site, .post = post_job, .publish = publish};
}

bool site_open_buses(struct site *site, struct trouble *trouble)
{
    for (uint8_t k = 0; k < site->settings->bus_count; k++) {
        site->buses[k] = bus_new(&site->settings->buses[k], site->answers, trouble);
        if (!site->buses[k])
            return false;
    }
    meters_begin(site);
    return true;
}

bool site_open_outputs(struct site *site, struct trouble *trouble)
{
    struct output_doors doors = site_output_doors(site);
    site->outputs = outputs_new(site->settings->outputs, site->settings->rules.load_count,
                                JOB_OUTPUTS, &doors, trouble);
    return site->outputs != NULL;
}

void site_listen(struct site *site)
{
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++)
        if (site->mqtt && site->settings->outputs[i].state_topic[0])
            mqtt_listen(site->mqtt, site->settings->outputs[i].state_topic);
}

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
    char boot[BOOT_ID_SIZE];
    remember_boot_id(site, boot);
    site->ledger = ledger_open(&settings->ledger, boot);
    if (!site->answers || !site->inbox || !site->ledger)
        return trouble_set(trouble, "", "out of memory");
    rules_begin(&settings->rules, &site->memory, site->loads, site->now, make_seed(site));
    remember_restore(site);
    if (!site_open_buses(site, trouble) || !site_open_outputs(site, trouble) ||
        !control_open(site, trouble))
        return false;
    publish_start(site);
    site_listen(site);
    outputs_probe(site->outputs, site->now.mono);
    return true;
}

static void take_last_answers(struct site *site)
{
    struct bus_answer answer;
    while (outputs_busy(site->outputs) && site->under_way > 0) {
        mailbox_wait(site->answers);
        while (mailbox_take(site->answers, &answer)) {
            site->under_way--;
            answer.id &= JOB_ID_MASK;
            outputs_answer(site->outputs, &answer);
        }
    }
}

void site_stop(struct site *site)
{
    if (site->outputs) {
        outputs_fail_state(site->outputs, site->now.mono);
        outputs_turn(site->outputs, site->now.mono);
        take_last_answers(site);
    }
    if (site->ledger && site->memory.begun)
        remember_stop(site);
    control_close(site);
    if (site->mqtt)
        mqtt_stop(site->mqtt);
    for (int k = 0; k < SETTINGS_BUSES_MAX; k++)
        if (site->buses[k])
            bus_free(site->buses[k]);
    if (site->retired)
        outputs_free(site->retired);
    if (site->outputs)
        outputs_free(site->outputs);
    if (site->ledger)
        ledger_close(site->ledger);
    mailbox_free(site->answers);
    mailbox_free(site->inbox);
    settings_free(site->settings);
}
