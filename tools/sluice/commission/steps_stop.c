/* steps_stop.c - what the outputs do when nobody switches them any more. */
#include <stdio.h>
#include <stdlib.h>

#include "output/backend.h"
#include "service.h"
#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "steps.h"

enum { ON_S = 30, BACK_S = 60 };

/* ---- one load on, so that there is something to see ------------------------------------------ */

/* One that its test has shown to obey, and that may be switched off at any time; -1: none. */
static int find_obedient(struct session *session)
{
    const struct settings *settings = session->settings;
    for (uint16_t k = 0; k < settings->rules.load_count; k++) {
        struct load_evidence evidence;
        const char *says;
        const cJSON *load = session_load(session, settings->names[k].name);
        if (is(load, "kind", "switched") && !yes(load, "motor") && !is(load, "hand", "off") &&
            settings->outputs[k].fail_state == OUTPUT_FAIL_OFF &&
            progress_test(&session->progress, settings->names[k].name, &evidence, &says) &&
            judge_output(&evidence) == STEP_PASS)
            return k;
    }
    return -1;
}

/* A test's order ends by itself, and with the daemon. */
static void order_test(const struct session *session, const char *load, const char *what)
{
    char request[120];
    struct trouble trouble;
    snprintf(request, sizeof(request), "test %s %s", load, what);
    free(control_ask(session->socket, request, &trouble));
}

static bool switch_on(struct session *session, const char *load)
{
    struct patience patience = session_patience(session, ON_S);
    order_test(session, load, "on 90 s");
    while (!is(session_load(session, load), "state", "on"))
        if (!session_wait_on(session, &patience))
            return false;
    return true;
}

/* ---- stop and start ---------------------------------------------------------------------------
 */

static void tell_fail_states(const struct session *session, const char *on)
{
    const struct settings *settings = session->settings;
    char line[200];
    snprintf(line, sizeof(line),
             "sluiced is stopped, for %d min at most%s%s. Each contactor must now be:",
             SERVICE_STOPPED_MOST_MIN, *on ? "; it had switched on " : "", on);
    ask_tell(&session->asking, 2, PAGE_PLAIN, line);
    for (uint16_t k = 0; k < settings->rules.load_count; k++) {
        snprintf(line, sizeof(line), "%s: %s", settings->names[k].name,
                 settings->outputs[k].fail_state == OUTPUT_FAIL_ON ? "on" : "off");
        ask_tell(&session->asking, 4, PAGE_PLAIN, line);
    }
}

/* Waits for sluiced as people do: it needs a moment to open its lines. */
static bool comes_back(struct session *session)
{
    for (int k = 0; k < BACK_S * 4; k++) {
        if (session_wait(session)) {
            session->stopped = false;
            return true;
        }
    }
    return false;
}

static bool is_gone(const struct session *session)
{
    struct trouble trouble;
    char *answer = control_ask(session->socket, "status", &trouble);
    free(answer);
    return answer == NULL;
}

/* What was off before and after shows nothing. */
static void judge_agreed(const char *on, struct step_result *result)
{
    if (*on)
        step_end(result, STEP_PASS,
                 "sluiced was stopped with a load on: %s: each output went to its fail state, as "
                 "seen at the switchboard",
                 on);
    else
        step_end(result, STEP_SKIPPED, "sluiced was stopped, and no load was on: nothing shown");
}

static void judge_states(struct session *session, const char *on, struct step_result *result)
{
    tell_fail_states(session, on);
    enum answer answer = session_ask(session, ANSWER_UNKNOWN, "Is each of them so?");
    if (answer != ANSWER_QUIT && !is_gone(session)) {
        step_end(result, STEP_SKIPPED,
                 "sluiced was stopped, and started again before this was answered");
        return;
    }
    switch (answer) {
    case ANSWER_YES:
        judge_agreed(on, result);
        break;
    case ANSWER_NO:
        step_end(result, STEP_FAIL,
                 "sluiced was stopped%s%s, and not each output went to its fail state: "
                 "\"journalctl -u sluiced\" names what was not reached",
                 *on ? " with a load on: " : "", on);
        break;
    case ANSWER_UNKNOWN:
        step_end(result, STEP_SKIPPED,
                 "sluiced was stopped; how the outputs were left was not "
                 "seen");
        break;
    case ANSWER_QUIT:
        break;
    }
}

static void stop_and_look(struct session *session, const char *on, struct step_result *result)
{
    struct service_guard guard;
    char why[CAUTION_MAX];
    if (!service_guard_begin(&guard)) {
        step_end(result, STEP_NOT_NOW, "nothing could promise to start sluiced again: %m");
        return;
    }
    if (!service_stop())
        step_end(result, STEP_NOT_NOW, "systemctl did not stop sluiced: root is needed for it");
    else if (!is_gone(session))
        step_end(result, STEP_NOT_NOW, "the sluiced that answers is not the one of the service");
    else
        judge_states(session, on, result);
    bool quit = session->stopped;
    snprintf(why, sizeof(why), "%s", session->why);
    if (!service_start(&guard) || !comes_back(session)) {
        step_end(result, STEP_FAIL,
                 "sluiced did not start again: \"systemctl status sluiced\" and "
                 "\"journalctl -u sluiced\" say why");
        session_stop(session, "sluiced did not start again");
    } else if (quit) {
        session_stop(session, "%s", why);
    }
}

void step_stop(struct session *session, int index, struct step_result *result)
{
    (void)index;
    if (session->asking.nobody) {
        step_end(result, STEP_NEEDS_PERSON, "sluiced is not stopped while nobody looks");
        return;
    }
    if (!session_look(session))
        return;
    if (!service_is_active()) {
        step_end(result, STEP_NOT_NOW,
                 "sluiced is not run by systemd as the unit sluiced here: it is not stopped");
        return;
    }
    enum answer answer =
        session_ask(session, ANSWER_NO, "Stop sluiced now, with a load on, and start it again?");
    if (session->stopped)
        return;
    if (answer != ANSWER_YES) {
        step_end(result, STEP_SKIPPED, "sluiced was not stopped: not agreed to");
        return;
    }
    int load = find_obedient(session);
    const char *name = load < 0 ? "" : session->settings->names[load].name;
    bool on = load >= 0 && switch_on(session, name);
    if (!session->stopped)
        stop_and_look(session, on ? name : "", result);
    if (load >= 0)
        order_test(session, name, "end");
}

/* ---- the board's own time-out ------------------------------------------------------------------
 */

static bool has_board(const struct settings *settings)
{
    for (uint16_t k = 0; k < settings->rules.load_count; k++)
        if (backend_of(&settings->outputs[k])->on_bus)
            return true;
    return false;
}

void step_timeout(struct session *session, int index, struct step_result *result)
{
    static const char keeps[] = "Relay board: if this machine or the bus fails while a load is on, "
                                "the board may keep it on. Wire so that this is safe.";
    (void)index;
    if (!has_board(session->settings)) {
        step_end(result, STEP_SKIPPED, "no output hangs on a bus");
        return;
    }
    if (session->asking.nobody) {
        step_end(result, STEP_NEEDS_PERSON, "cannot be tested from here, and nobody was asked");
        step_caution(result, "%s", keeps);
        return;
    }
    switch (session_ask(session, ANSWER_UNKNOWN,
                        "Has the board a communication time-out that switches its outputs off?")) {
    case ANSWER_YES:
        step_end(result, STEP_SKIPPED,
                 "it has one, as stated at the switchboard; cannot be tested from here");
        break;
    case ANSWER_NO:
        step_end(result, STEP_SKIPPED,
                 "it has none, as stated at the switchboard; cannot be tested from here");
        step_caution(result, "%s", keeps);
        break;
    default:
        step_end(result, STEP_SKIPPED, "not known, and cannot be tested from here");
        step_caution(result, "%s", keeps);
    }
}
