/* test_run.c - switching a load and watching what the engine sees of it.
 *
 * A load that is off is switched on and off again, one that is on off and on: two looks, which
 * must agree. Where they don't (the house is noisy) it is done again, three times at most. What
 * has a motor is switched once: off where it runs, on where it rests, and then it runs out its
 * minimum on by itself. All waiting is by the daemon's clock. */
#include "test_run.h"

#include <errno.h>
#include <inttypes.h>
#include <poll.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "sluice/page/show.h"
#include "terms/experiment.h"

enum {
    POLL_MS = 250,
    WAITING_POLL_MS = 1000,
    ORDER_S = 90,    /* each order ends by itself then */
    TAKEN_S = 10,    /* an order is in force by then */
    PATIENCE_S = 75, /* for an output that is slow to confirm, and the meter after it */
    PARTING_S = 10,
    CYCLES_MAX = 3,
};

struct run {
    const struct test_options *options;
    struct test_result *result;
    cJSON *status;     /* the last one */
    const cJSON *load; /* in it */
    bool was_on;
    bool ordered_on; /* by the last order that was taken, whether the status shows it or not */
    bool resistive;  /* may be switched again and again */
    bool shows_step; /* the engine tells its switchings as experiments */
};

/* ---- signals ------------------------------------------------------------------------------ */

static volatile sig_atomic_t interrupted;
static sigset_t before_hold;
static const int held_signals[] = {SIGINT, SIGTERM, SIGHUP};
enum { HELD = sizeof(held_signals) / sizeof(held_signals[0]) };
static struct sigaction actions_before[HELD], pipe_before;

static void on_signal(int number)
{
    (void)number;
    interrupted = 1;
}

/* They come only where this waits, so that no order is cut in two. */
void test_signals_hold(void)
{
    struct sigaction action = {.sa_handler = on_signal}, ignore = {.sa_handler = SIG_IGN};
    sigset_t held;
    sigemptyset(&held);
    interrupted = 0;
    for (int k = 0; k < HELD; k++)
        sigaddset(&held, held_signals[k]);
    sigprocmask(SIG_BLOCK, &held, &before_hold);
    for (int k = 0; k < HELD; k++)
        sigaction(held_signals[k], &action, &actions_before[k]);
    sigaction(SIGPIPE, &ignore, &pipe_before);
}

void test_signals_release(void)
{
    for (int k = 0; k < HELD; k++)
        sigaction(held_signals[k], &actions_before[k], NULL);
    sigaction(SIGPIPE, &pipe_before, NULL);
    sigprocmask(SIG_SETMASK, &before_hold, NULL);
}

bool test_was_interrupted(void)
{
    return interrupted != 0;
}

/* False: a signal came. */
static bool pause_for(int ms)
{
    const struct timespec time = {ms / 1000, ms % 1000 * 1000000L};
    sigset_t open = before_hold;
    for (int k = 0; k < HELD; k++)
        sigdelset(&open, held_signals[k]);
    if (!interrupted)
        ppoll(NULL, 0, &time, &open);
    return !interrupted;
}

/* ---- asking ------------------------------------------------------------------------------- */

static bool end(struct run *run, enum test_outcome outcome, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Always false: the run is over. */
static bool end(struct run *run, enum test_outcome outcome, const char *format, ...)
{
    struct text text = text_in(run->result->says, sizeof(run->result->says));
    va_list arguments;
    va_start(arguments, format);
    text_add_list(&text, format, arguments);
    va_end(arguments);
    run->result->outcome = outcome;
    return false;
}

static const cJSON *find_load(const cJSON *status, const char *name)
{
    const cJSON *load;
    cJSON_ArrayForEach(load, get(status, "loads")) if (is(load, "name", name)) return load;
    return NULL;
}

static bool no_such_load(struct run *run)
{
    const char *names[256], *nearest;
    size_t count = 0;
    const cJSON *load;
    cJSON_ArrayForEach(load, get(run->status, "loads")) if (count < 256) names[count++] =
        words(load, "name");
    nearest = text_nearest(run->result->load, names, count);
    return end(run, TEST_REFUSED, "there is no load \"%.40s\"%s%s%s", run->result->load,
               nearest ? "; do you mean \"" : "", nearest ? nearest : "", nearest ? "\"?" : "");
}

static bool look_at_status(struct run *run)
{
    struct trouble trouble;
    cJSON_Delete(run->status);
    run->load = NULL;
    run->status = control_status(run->options->socket, &trouble);
    if (!run->status)
        return end(run, TEST_GONE, "%s", trouble.text);
    run->load = find_load(run->status, run->result->load);
    if (!run->load)
        return no_such_load(run);
    run->result->subject.stuck |= is(run->load, "draw", "stuck");
    return true;
}

static int64_t number_of(const cJSON *from, const char *key)
{
    int64_t value;
    number(from, key, &value);
    return value;
}

static int64_t now_s(const struct run *run)
{
    return number_of(run->status, "uptime_s");
}

static bool wait_and_look(struct run *run, int ms)
{
    if (!pause_for(ms))
        return end(run, TEST_INTERRUPTED, "interrupted");
    return look_at_status(run);
}

static void say(const struct run *run, const char *text)
{
    if (run->options->say)
        run->options->say(run->options->context, text);
}

/* False: not taken, and the result says why. */
static bool order(struct run *run, const char *what)
{
    char request[TEST_NAME_MAX + 40];
    struct trouble trouble;
    snprintf(request, sizeof(request), "test %s %s", run->result->load, what);
    char *answer = control_ask(run->options->socket, request, &trouble);
    cJSON *root = answer ? cJSON_Parse(answer) : NULL;
    bool taken = cJSON_IsTrue(get(root, "ok"));
    if (!answer)
        end(run, TEST_GONE, "%s", trouble.text);
    else if (!taken)
        end(run, TEST_REFUSED, "%s", words(root, "text"));
    else
        run->ordered_on = strncmp(what, "on", 2) == 0;
    cJSON_Delete(root);
    free(answer);
    return taken;
}

/* ---- before -------------------------------------------------------------------------------- */

static bool is_on(const struct run *run)
{
    return is(run->load, "state", "on") || is(run->load, "state", "starting");
}

static void meet(struct run *run)
{
    struct test_subject *subject = &run->result->subject;
    int phase = 0;
    const cJSON *its;
    bool electronic = is(run->load, "kind", "request") || is(run->load, "kind", "setpoint");
    subject->nameplate_w = number_of(run->load, "nameplate_w");
    subject->nominal_mv = number_of(run->status, "nominal_voltage_mv");
    cJSON_ArrayForEach(its, get(run->load, "phases"))
    {
        subject->phases |= (uint8_t)(cJSON_IsTrue(its) << phase);
        phase++;
    }
    run->resistive = !electronic && !yes(run->load, "motor");
    subject->resistive = run->resistive && is(run->load, "kind", "switched");
    subject->once = !run->resistive;
    subject->thermostat = yes(run->load, "thermostat");
    subject->off_shown = cJSON_IsNumber(get(run->load, "draw_w"));
    run->shows_step = is(run->load, "kind", "switched") ||
                      (is(run->load, "kind", "staged") && yes(run->load, "metered"));
}

static bool may_begin(struct run *run)
{
    const char *detail = words(run->load, "output_detail");
    if (yes(run->status, "inhibited"))
        return end(run, TEST_REFUSED, "all loads are inhibited: nothing is switched");
    if (yes(run->load, "inhibited"))
        return end(run, TEST_REFUSED, "it is inhibited: it is not switched");
    if (is(run->load, "reason_name", "off-islanded"))
        return end(run, TEST_REFUSED, "the site runs off the grid: it is not switched");
    if (!is(run->load, "test", "none"))
        return end(run, TEST_REFUSED, "it is under test already");
    if (!is(run->load, "output", "confirmed"))
        return end(run, TEST_REFUSED,
                   "its output is %s%s%s: it is not switched, as nothing would "
                   "say whether it obeys",
                   words(run->load, "output"), *detail ? ": " : "", detail);
    if (!is(get(run->status, "reading"), "quality", "fresh") && !yes(run->load, "metered"))
        return end(run, TEST_REFUSED,
                   "the reading of the grid meter is %s: switching it would show that its output "
                   "obeys, and nothing of what it draws. Nothing was switched",
                   words(get(run->status, "reading"), "quality"));
    return true;
}

/* What has to pass before it may be switched; 0: nothing. */
static int64_t rest_ms(const struct run *run, const char **what)
{
    int64_t starts_ms = number_of(run->load, "starts_wait_ms");
    int64_t off_ms = number_of(run->load, "minimum_off_left_ms");
    int64_t on_ms = number_of(run->load, "minimum_on_left_ms");
    *what = "starts per hour";
    if (run->resistive)
        return starts_ms;
    if (is_on(run)) {
        *what = "minimum on of a motor";
        return on_ms;
    }
    if (off_ms > starts_ms)
        *what = "minimum off of a motor";
    return off_ms > starts_ms ? off_ms : starts_ms;
}

static bool wait_for_rest(struct run *run)
{
    char buffer[160];
    const char *what;
    bool told = false;
    for (int64_t left_ms; (left_ms = rest_ms(run, &what)) > 0;) {
        struct text text = text_in(buffer, sizeof(buffer));
        show_duration(&text, left_ms + MS_PER_S - 1);
        if (run->options->no_wait)
            return end(run, TEST_REFUSED, "%s: %s left, not waited for", what, buffer);
        struct text line = text_in(buffer, sizeof(buffer));
        text_add(&line, "waiting ");
        show_duration(&line, left_ms + MS_PER_S - 1);
        text_add(&line, ": %s", what);
        if (!told)
            say(run, buffer);
        told = true;
        if (!wait_and_look(run, WAITING_POLL_MS) || !may_begin(run))
            return false;
    }
    return true;
}

/* That of a command that was cut off ends by itself, within its minute or two. */
static bool wait_for_other_test(struct run *run)
{
    if (!run->options->no_wait && !is(run->load, "test", "none"))
        say(run, "a test of it is under way: waiting for its end");
    while (!run->options->no_wait && !is(run->load, "test", "none"))
        if (!wait_and_look(run, WAITING_POLL_MS))
            return false;
    return true;
}

/* ---- one look ------------------------------------------------------------------------------- */

static const cJSON *experiment(const struct run *run, bool stop)
{
    return get(run->load, stop ? "last_stop" : "last_start");
}

static bool is_any_of(const char *word, const char *const list[])
{
    for (; *list; list++)
        if (strcmp(word, *list) == 0)
            return true;
    return false;
}

/* What passes by itself before a start. */
static bool is_passing(const struct run *run)
{
    static const char *const passing[] = {"off-minimum-off", "off-starts", "off-restart",
                                          "off-output",      "off-test",   NULL};
    return is_any_of(words(run->load, "reason_name"), passing);
}

/* False: something has ended the test, and the result says what. */
static bool goes_on(struct run *run, bool stop)
{
    const char *output = words(run->load, "output"), *detail = words(run->load, "output_detail");
    static const char *const stronger[] = {"off-inhibit", "off-islanded", "off-supply", "off-group",
                                           NULL};
    if (strcmp(output, "failed") == 0 || strcmp(output, "unsafe") == 0)
        return end(run, TEST_OUTPUT, "its output did not obey: %s%s%s", output, *detail ? ": " : "",
                   detail);
    if (!is(run->load, "test", stop ? "off" : "on"))
        return end(run, TEST_OVERRULED, "ended by another order; %s", words(run->load, "reason"));
    if (!is_on(run) && is_any_of(words(run->load, "reason_name"), stronger))
        return end(run, TEST_OVERRULED, "it may not run now; %s", words(run->load, "reason"));
    if (!stop && !is_on(run) && !is_passing(run))
        return end(run, TEST_REFUSED, "it may not start; %s", words(run->load, "reason"));
    return true;
}

/* Until the engine has taken the order. */
static bool is_taken(struct run *run, bool stop)
{
    int64_t since_s = now_s(run);
    while (!is(run->load, "test", stop ? "off" : "on") && now_s(run) - since_s <= TAKEN_S)
        if (!wait_and_look(run, POLL_MS))
            return false;
    return goes_on(run, stop);
}

static void take_look(struct run *run, bool stop)
{
    const cJSON *from = experiment(run, stop), *step;
    struct test_look *look = &run->result->looks[run->result->look_count++];
    int64_t since_opened_ms;
    int phase = 0;
    *look = (struct test_look){.stop = stop, .seen = LOOK_UNSEEN};
    look->seen = is(from, "seen", "clear")   ? LOOK_CLEAR
                 : is(from, "seen", "mixed") ? LOOK_MIXED
                                             : LOOK_UNSEEN;
    look->step_w = number_of(from, "step_w");
    look->voltage_mv = number_of(from, "voltage_mv");
    look->hot = yes(from, "thought_open") && number(from, "since_opened_ms", &since_opened_ms) &&
                since_opened_ms <= EXPERIMENT_HOT_MS;
    look->has_phases = cJSON_IsArray(get(from, "phase_step_w"));
    cJSON_ArrayForEach(step, get(from, "phase_step_w")) if (phase < TEST_PHASES)
        look->phase_step_w[phase++] = (int64_t)step->valuedouble;
}

static void tell_look(const struct run *run)
{
    char buffer[160];
    struct text text = text_in(buffer, sizeof(buffer));
    const struct test_look *look = &run->result->looks[run->result->look_count - 1];
    text_add(&text, "%s: ", look->stop ? "off" : "on");
    if (look->seen == LOOK_UNSEEN) {
        text_add(&text, "the meter showed nothing");
    } else {
        text_add(&text, "the meter %s by ", look->step_w < 0 ? "fell" : "rose");
        show_power(&text, llabs(look->step_w));
        text_add(&text, "%s", look->seen == LOOK_MIXED ? ", other loads switched too" : "");
    }
    say(run, buffer);
}

/* Switches, and waits until the engine tells what the meter showed. */
static bool look(struct run *run, bool stop)
{
    char what[24];
    int64_t before = number_of(experiment(run, stop), "sequence");
    snprintf(what, sizeof(what), "%s %d s", stop ? "off" : "on", ORDER_S);
    if (!order(run, what) || !is_taken(run, stop))
        return false;
    int64_t since_s = now_s(run);
    while (number_of(experiment(run, stop), "sequence") == before) {
        if (now_s(run) - since_s > PATIENCE_S) {
            run->result->looks[run->result->look_count++] =
                (struct test_look){.stop = stop, .seen = LOOK_UNSEEN};
            tell_look(run);
            return true;
        }
        if (!wait_and_look(run, POLL_MS) || !goes_on(run, stop))
            return false;
    }
    if (!stop && run->result->subject.contact == CONTACT_NOT_SENSED &&
        cJSON_IsBool(get(run->load, "contact_closed")))
        run->result->subject.contact =
            yes(run->load, "contact_closed") ? CONTACT_CLOSED : CONTACT_OPEN;
    take_look(run, stop);
    tell_look(run);
    return true;
}

/* ---- the whole ------------------------------------------------------------------------------ */

static void conclude(struct run *run)
{
    struct test_result *result = run->result;
    struct text says = text_in(result->says, sizeof(result->says));
    struct text first = text_in(result->first, sizeof(result->first));
    result->outcome = result->verdict.outcome;
    test_verdict_write(&result->subject, &result->verdict, &says);
    test_verdict_write_first(&result->subject, &result->verdict, &first);
}

static bool judge(struct run *run)
{
    return test_judge(&run->result->subject, run->result->looks, run->result->look_count,
                      &run->result->verdict);
}

static bool cycle(struct run *run)
{
    const char *what;
    for (int k = 0; k < CYCLES_MAX; k++) {
        if (k > 0 && rest_ms(run, &what) > 0)
            break;
        if (k > 0)
            say(run, "the looks do not agree: once more");
        if (!look(run, run->was_on) || (run->resistive && !look(run, !run->was_on)))
            return false;
        if (judge(run) || !run->resistive)
            break;
    }
    conclude(run);
    return true;
}

/* It obeys in its own time, or by steps: its output, and its own meter where it has one. */
static bool watch_output(struct run *run)
{
    char what[24];
    int64_t since_s = now_s(run);
    snprintf(what, sizeof(what), "on %d s", ORDER_S);
    if (!order(run, what) || !is_taken(run, false))
        return false;
    while (!is(run->load, "state", "on") ||
           (yes(run->load, "metered") && !is(run->load, "draw", "seen"))) {
        if (now_s(run) - since_s > PATIENCE_S)
            break;
        if (!wait_and_look(run, POLL_MS) || !goes_on(run, false))
            return false;
    }
    if (!is(run->load, "state", "on"))
        return end(run, TEST_OUTPUT, "its output has not confirmed within %d s", PATIENCE_S);
    if (is(run->load, "draw", "seen")) {
        char buffer[40];
        struct text text = text_in(buffer, sizeof(buffer));
        run->result->verdict.power_w = number_of(run->load, "draw_w");
        show_power(&text, run->result->verdict.power_w);
        end(run, TEST_AS_EXPECTED, "its output obeys, and its own meter shows %s", buffer);
    } else if (yes(run->load, "metered")) {
        end(run, TEST_NOT_SHOWN,
            "its output obeys; its own meter showed no draw within %d s: a load that obeys a "
            "request or set-point may take longer",
            PATIENCE_S);
    } else {
        end(run, TEST_NOT_SHOWN,
            "its output obeys; what it draws cannot be shown: it follows in its own time or by "
            "steps, and has no meter of its own");
    }
    return true;
}

/* As it was ordered before. One that was off and may be switched off is not left to run out its
 * minimum on: that order ends by itself too. */
static void leave(struct run *run)
{
    char what[24];
    struct test_result kept = *run->result;
    bool part = run->load && run->resistive && !run->was_on && (run->ordered_on || is_on(run));
    snprintf(what, sizeof(what), "off %d s", PARTING_S);
    if (kept.outcome == TEST_GONE)
        return;
    bool taken = order(run, part ? what : "end") && look_at_status(run);
    int64_t since_s = taken ? now_s(run) : 0;
    while (taken && !interrupted && now_s(run) - since_s <= PARTING_S + TAKEN_S &&
           !is(run->load, "test", "none"))
        taken = wait_and_look(run, POLL_MS);
    const char *reason = taken ? words(run->load, "reason") : "";
    *run->result = kept;
    snprintf(run->result->left, sizeof(run->result->left), "%s", reason);
}

void test_run(const struct test_options *options, const char *load, struct test_result *result)
{
    struct run run = {.options = options, .result = result};
    *result = (struct test_result){.outcome = TEST_UNCLEAR};
    snprintf(result->load, sizeof(result->load), "%s", load);
    if (look_at_status(&run)) {
        meet(&run);
        if (wait_for_other_test(&run) && may_begin(&run) && wait_for_rest(&run)) {
            run.was_on = is_on(&run);
            if (run.shows_step)
                cycle(&run);
            else
                watch_output(&run);
            leave(&run);
        }
    }
    cJSON_Delete(run.status);
}
