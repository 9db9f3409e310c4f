/* steps_loads.c - the steps for which a load is switched. A load is tested once, and each step
 * looks at what that showed. */
#include <string.h>

#include "sluice/live/say.h"
#include "sluice/live/test_run.h"
#include "sluice/page/show.h"
#include "steps.h"

enum tested { TESTED, NOT_TESTED /* says why not */, TEST_STOPPED };

/* ---- one test ------------------------------------------------------------------------------ */

static void say_progress(void *context, const char *text)
{
    const struct session *session = context;
    ask_tell(&session->asking, 4, PAGE_PLAIN, text);
}

static bool saw_anything(const struct test_result *result)
{
    for (int k = 0; k < result->look_count; k++)
        if (result->looks[k].seen != LOOK_UNSEEN)
            return true;
    return false;
}

/* In a house of one phase the sum is that phase. */
static struct load_evidence evidence_of(const struct test_result *result, bool one_phase)
{
    struct load_evidence evidence = {.outcome = result->outcome,
                                     .power_w = result->verdict.power_w,
                                     .seen = saw_anything(result),
                                     .has_phases = result->verdict.has_phases,
                                     .phases = result->subject.phases};
    memcpy(evidence.phase_w, result->verdict.phase_w, sizeof(evidence.phase_w));
    if (one_phase && !evidence.has_phases) {
        evidence.has_phases = true;
        evidence.phase_w[0] = evidence.power_w;
    }
    return evidence;
}

static void run_test(struct session *session, const char *load, struct test_result *result)
{
    const struct test_options options = {
        .socket = session->socket, .say = say_progress, .context = session};
    test_signals_hold();
    test_run(&options, load, result);
    test_signals_release();
}

static enum tested test_now(struct session *session, const char *load,
                            struct load_evidence *evidence)
{
    static struct test_result result; /* too large for a stack */
    char says[EVIDENCE_MAX];
    run_test(session, load, &result);
    if (result.outcome == TEST_INTERRUPTED || result.outcome == TEST_GONE) {
        session_stop(session, "%s: %s", load, result.says);
        return TEST_STOPPED;
    }
    struct text text = text_in(says, sizeof(says));
    text_add(&text, "%s%s%s", result.says, *result.first ? ". " : "", result.first);
    *evidence = evidence_of(&result, session->settings->rules.phase_count == 1);
    progress_put_test(&session->progress, load, evidence, says);
    session_look(session);
    return TESTED;
}

/* Whoever put a load off may have hands in it. */
static bool is_left_alone(const struct session *session, const char *load)
{
    return is(session_load(session, load), "hand", "off");
}

static bool may_switch(struct session *session, uint16_t index)
{
    char question[200];
    const char *load = session->settings->names[index].name;
    if (session->asking.nobody)
        return true;
    snprintf(question, sizeof(question),
             "Is it safe to switch %s now? It may start at once and without warning.", load);
    session->declined[index] = session_ask(session, ANSWER_YES, question) != ANSWER_YES;
    return !session->declined[index];
}

/* What the load's test showed; it is made where there is none yet. */
static enum tested look_at(struct session *session, uint16_t index, struct load_evidence *evidence,
                           const char **says)
{
    const char *load = session->settings->names[index].name;
    if (progress_test(&session->progress, load, evidence, says))
        return TESTED;
    *says = "not switched, as whoever was there asked";
    if (session->declined[index])
        return NOT_TESTED;
    if (is_left_alone(session, load)) {
        *says = "off by hand, left alone";
        return NOT_TESTED;
    }
    if (!may_switch(session, index))
        return session->stopped ? TEST_STOPPED : NOT_TESTED;
    enum tested tested = test_now(session, load, evidence);
    if (tested == TESTED)
        progress_test(&session->progress, load, evidence, says);
    return tested;
}

void steps_forget_tests(struct progress *progress, const char *id)
{
    const char *load = strncmp(id, "output:", 7) == 0 ? id + 7 : NULL;
    if (load || strcmp(id, "sign") == 0 || strncmp(id, "phase", 5) == 0 ||
        strcmp(id, "output") == 0)
        progress_forget_test(progress, load);
}

void steps_forget_unclear(struct session *session)
{
    const struct settings *settings = session->settings;
    for (uint16_t k = 0; k < settings->rules.load_count; k++) {
        struct load_evidence evidence;
        const char *says;
        if (progress_test(&session->progress, settings->names[k].name, &evidence, &says) &&
            judge_output(&evidence) == STEP_NOT_NOW)
            progress_forget_test(&session->progress, settings->names[k].name);
    }
}

/* ---- the sign ------------------------------------------------------------------------------- */

/* Load by load until one shows it. */
static bool find_sign(struct session *session, struct step_result *result)
{
    const struct settings *settings = session->settings;
    for (uint16_t k = 0; k < settings->rules.load_count; k++) {
        uint16_t index = settings->rules.order[k];
        const char *load = settings->names[index].name, *says;
        struct load_evidence evidence;
        enum tested tested = look_at(session, index, &evidence, &says);
        if (tested == TEST_STOPPED)
            return false;
        enum step_outcome outcome = tested == TESTED ? judge_sign(&evidence) : STEP_OPEN;
        if (outcome != STEP_OPEN) {
            step_end(result, outcome, "%s as %s was switched on (%s)",
                     outcome == STEP_PASS ? "import rose" : "import fell", load, says);
            return true;
        }
        step_add(result, "%s: %s", load, says);
    }
    return false;
}

void step_sign(struct session *session, int index, struct step_result *result)
{
    (void)index;
    if (!session_look(session) || find_sign(session, result) || session->stopped)
        return;
    struct step_result why = *result;
    step_end(result, STEP_NOT_NOW, "no load showed it%s%s", *why.evidence ? ": " : "",
             why.evidence);
}

/* ---- phases --------------------------------------------------------------------------------- */

/* False: out of its band. */
static bool check_voltage(struct session *session, int phase, struct step_result *result)
{
    const cJSON *item =
        cJSON_GetArrayItem(get(get(session->status, "reading"), "voltage_mv"), phase);
    int64_t nominal_mv = session->settings->rules.voltage_mv;
    if (!cJSON_IsNumber(item)) {
        step_add(result, "its voltage is not measured");
        return true;
    }
    bool ok = judge_voltage(item->valueint, nominal_mv);
    step_add(result, "%d V%s", item->valueint / 1000,
             ok ? "" : ": more than 10 % from nominal (EN 50160)");
    return ok;
}

/* STEP_OPEN: no load has shown it. */
static enum step_outcome find_on_phase(struct session *session, int phase,
                                       struct step_result *result)
{
    const struct settings *settings = session->settings;
    for (uint16_t k = 0; k < settings->rules.load_count; k++) {
        uint16_t index = settings->rules.order[k];
        struct load_evidence evidence;
        const char *says;
        if (!(settings->loads[index].phases >> phase & 1))
            continue;
        enum tested tested = look_at(session, index, &evidence, &says);
        if (tested == TEST_STOPPED)
            return STEP_OPEN;
        step_add(result, "%s: %s", settings->names[index].name, says);
        enum step_outcome outcome = tested == TESTED ? judge_phase(&evidence, phase) : STEP_OPEN;
        if (outcome != STEP_OPEN)
            return outcome;
    }
    return STEP_OPEN;
}

void step_phase(struct session *session, int phase, struct step_result *result)
{
    if (!session_look(session))
        return;
    bool told = session->settings->rules.phase_count == 1 ||
                cJSON_IsArray(get(get(session->status, "reading"), "phase_power_w"));
    bool sound = check_voltage(session, phase, result);
    enum step_outcome outcome = STEP_SKIPPED;
    if (!told) {
        step_add(result, "the meter does not tell the power of each phase");
    } else {
        outcome = find_on_phase(session, phase, result);
        if (outcome == STEP_OPEN) {
            step_add(result, "no load showed on it");
            outcome = STEP_NOT_NOW;
        }
    }
    result->outcome = sound ? outcome : STEP_FAIL;
}

/* ---- each output ---------------------------------------------------------------------------- */

void step_output(struct session *session, int index, struct step_result *result)
{
    struct load_evidence evidence;
    const char *says;
    if (!session_look(session))
        return;
    switch (look_at(session, (uint16_t)index, &evidence, &says)) {
    case TESTED:
        step_end(result, judge_output(&evidence), "%s", says);
        break;
    case NOT_TESTED:
        step_end(result, session->declined[index] ? STEP_SKIPPED : STEP_NOT_NOW, "%s", says);
        break;
    case TEST_STOPPED:
        break;
    }
}
