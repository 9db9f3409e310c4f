/* test.c - `test`: the experiment on demand. Each load is switched, and what the meter shows is
 * said in plain words, with the first thing to measure where something is not as expected. */
#include "test.h"

#include <cjson/cJSON.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "sluice/live/control.h"
#include "sluice/live/say.h"
#include "sluice/live/test_run.h"
#include "sluice/options.h"
#include "sluice/page/page.h"
#include "sluice/page/show.h"

const char test_help[] =
    "  LOAD                is switched on and off again (one that runs: off and on),\n"
    "                      up to three times in a noisy house; it starts at once and\n"
    "                      without warning. Then it is as it was ordered before, also\n"
    "                      after Ctrl-C or a lost connection\n"
    "  --all               each load in turn, but for those that are off manually\n"
    "  --no-wait           refuses where a motor's minimum on or off, or the starts\n"
    "                      per hour, would have to be waited for\n"
    "  --json              the same for machines\n"
    "\n"
    "A test passes the minimum off of a load without a motor; never an inhibit, the\n"
    "supply limit, a group, strict hours or the starts per hour.\n"
    "Exit status 0: every load draws as expected; 1: not, or not shown.\n"
    "Off is not isolation: isolate all supplies and prove dead before opening.\n";

/* ---- on a screen --------------------------------------------------------------------------- */

static void put(int indent, const char *text)
{
    struct page page = {.width = page_terminal_width()};
    page_to(&page, indent);
    page_wrap(&page, indent, text);
    fflush(stdout);
}

static void say_progress(void *context, const char *text)
{
    (void)context;
    put(2, text);
}

static void write_volts(int64_t voltage_mv, struct text *text)
{
    text_add(text, "%d.%d V", (int)(voltage_mv / 1000), (int)(voltage_mv % 1000 / 100));
}

static void write_ohms(int64_t mohm, struct text *text)
{
    text_add(text, "%d.%d ohm", (int)(mohm / 1000), (int)(mohm % 1000 / 100));
}

/* Of a resistive load: in phase with the voltage. */
static int64_t current_ma(const struct test_result *result, int64_t power_w)
{
    int64_t voltage_mv = result->verdict.voltage_mv;
    return result->subject.resistive && voltage_mv > 0 ? power_w * 1000000 / voltage_mv : 0;
}

static int64_t power_on_phase_w(const struct test_result *result, int phase)
{
    if (result->verdict.has_phases)
        return result->verdict.phase_w[phase];
    return result->verdict.power_w / test_phase_count(result->subject.phases);
}

/* "L1: 3.58 kW, 15.4 A", of those on which it is, or was seen. */
static void put_phases(const struct test_result *result)
{
    for (int p = 0; p < TEST_PHASES; p++) {
        char buffer[80];
        struct text text = text_in(buffer, sizeof(buffer));
        bool its = result->subject.phases >> p & 1;
        if (!its && result->verdict.seen_phase != p + 1)
            continue;
        int64_t power_w = power_on_phase_w(result, p), ma = current_ma(result, power_w);
        text_add(&text, "L%d: ", p + 1);
        show_power(&text, power_w);
        if (ma > 0)
            text_add(&text, ", %d.%d A", (int)(ma / 1000), (int)(ma % 1000 / 100));
        put(2, buffer);
    }
}

static void put_element(const struct test_result *result)
{
    char buffer[160];
    struct text text = text_in(buffer, sizeof(buffer));
    if (result->verdict.element_mohm == 0)
        return;
    text_add(&text, "element: ");
    write_ohms(result->verdict.element_mohm, &text);
    text_add(&text, "%s at ", test_phase_count(result->subject.phases) > 1 ? " each" : "");
    write_volts(result->verdict.voltage_mv, &text);
    text_add(&text, "; by its nameplate ");
    write_ohms(result->verdict.expected_mohm, &text);
    put(2, buffer);
}

static bool draws(enum test_outcome outcome)
{
    return outcome == TEST_AS_EXPECTED || outcome == TEST_LESS || outcome == TEST_MORE;
}

static void put_result(const struct test_result *result)
{
    char buffer[TEST_TEXT_MAX + TEST_NAME_MAX];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "%s: %s", result->load, result->says);
    put(0, buffer);
    if (result->look_count > 0 && draws(result->outcome)) {
        put_phases(result);
        put_element(result);
    }
    if (*result->first)
        put(2, result->first);
    if (*result->left) {
        text = text_in(buffer, sizeof(buffer));
        text_add(&text, "left as it was ordered; now %s", result->left);
        put(2, buffer);
    } else if (result->outcome == TEST_GONE) {
        put(2, "Its output may be on or off. A test is not remembered: once sluiced runs again, "
               "what was ordered before holds.");
    }
}

/* ---- as JSON ------------------------------------------------------------------------------- */

static void add_known(cJSON *to, const char *key, int64_t value)
{
    if (value > 0)
        cJSON_AddNumberToObject(to, key, (double)value);
    else
        cJSON_AddNullToObject(to, key);
}

static void add_phases(cJSON *to, const struct test_result *result)
{
    cJSON *list = cJSON_AddArrayToObject(to, "phases");
    for (int p = 0; result->look_count > 0 && p < TEST_PHASES; p++) {
        if (!(result->subject.phases >> p & 1) && result->verdict.seen_phase != p + 1)
            continue;
        cJSON *phase = cJSON_CreateObject();
        int64_t power_w = power_on_phase_w(result, p);
        cJSON_AddNumberToObject(phase, "phase", p + 1);
        cJSON_AddNumberToObject(phase, "power_w", (double)power_w);
        add_known(phase, "current_ma", current_ma(result, power_w));
        cJSON_AddItemToArray(list, phase);
    }
}

static void add_looks(cJSON *to, const struct test_result *result)
{
    static const char *const seen[] = {"clear", "mixed", "unseen"};
    cJSON *list = cJSON_AddArrayToObject(to, "looks");
    for (int k = 0; k < result->look_count; k++) {
        cJSON *look = cJSON_CreateObject();
        cJSON_AddStringToObject(look, "switched", result->looks[k].stop ? "off" : "on");
        cJSON_AddStringToObject(look, "seen", seen[result->looks[k].seen]);
        if (result->looks[k].seen != LOOK_UNSEEN)
            cJSON_AddNumberToObject(look, "step_w", (double)result->looks[k].step_w);
        else
            cJSON_AddNullToObject(look, "step_w");
        cJSON_AddItemToArray(list, look);
    }
}

static cJSON *result_json(const struct test_result *result)
{
    cJSON *root = cJSON_CreateObject();
    bool has_power = draws(result->outcome) || result->outcome == TEST_OTHER_PHASE;
    cJSON_AddStringToObject(root, "load", result->load);
    cJSON_AddStringToObject(root, "outcome", test_outcome_name(result->outcome));
    cJSON_AddStringToObject(root, "text", result->says);
    cJSON_AddStringToObject(root, "first", result->first);
    cJSON_AddStringToObject(root, "finding",
                            result->verdict.finding.kind != FINDING_NONE
                                ? finding_id((enum finding_kind)result->verdict.finding.kind)
                                : "");
    if (has_power)
        cJSON_AddNumberToObject(root, "power_w", (double)result->verdict.power_w);
    else
        cJSON_AddNullToObject(root, "power_w");
    add_known(root, "nameplate_w", result->subject.nameplate_w);
    add_known(root, "voltage_mv", result->verdict.voltage_mv);
    add_known(root, "element_mohm", result->verdict.element_mohm);
    add_known(root, "expected_mohm", result->verdict.expected_mohm);
    add_phases(root, result);
    add_looks(root, result);
    cJSON_AddStringToObject(root, "left", result->left);
    return root;
}

/* ---- the command ----------------------------------------------------------------------------- */

static enum status status_of(enum test_outcome outcome)
{
    return outcome == TEST_AS_EXPECTED ? STATUS_DONE
           : outcome == TEST_GONE      ? STATUS_NOT_THERE
                                       : STATUS_REFUSED;
}

static bool ends_all(enum test_outcome outcome)
{
    return outcome == TEST_INTERRUPTED || outcome == TEST_GONE;
}

/* With `list` as JSON into it, else on the screen. */
static enum status test_one(const struct test_options *options, const char *load, cJSON *list,
                            bool *over)
{
    static struct test_result result; /* too large for a stack */
    if (!list)
        put(0, load);
    test_run(options, load, &result);
    if (list)
        cJSON_AddItemToArray(list, result_json(&result));
    else
        put_result(&result);
    *over = ends_all(result.outcome);
    return status_of(result.outcome);
}

/* One that somebody put off may have hands in it: it is tested by its name alone. */
static bool is_left_out(const cJSON *load, cJSON *list)
{
    static struct test_result result;
    if (!is(load, "hand", "off"))
        return false;
    result = (struct test_result){.outcome = TEST_REFUSED};
    snprintf(result.load, sizeof(result.load), "%s", words(load, "name"));
    snprintf(result.says, sizeof(result.says),
             "off manually: left alone; \"sluice test %s\" tests it all the same", result.load);
    if (list)
        cJSON_AddItemToArray(list, result_json(&result));
    else
        put_result(&result);
    return true;
}

static enum status test_all(const struct test_options *options, cJSON *list)
{
    struct trouble trouble;
    enum status worst = STATUS_DONE;
    bool over = false;
    cJSON *status = control_status(options->socket, &trouble);
    const cJSON *load;
    if (!status)
        return complain(STATUS_NOT_THERE, "%s", trouble.text);
    cJSON_ArrayForEach(load, get(status, "loads"))
    {
        if (over)
            break;
        if (is_left_out(load, list)) {
            worst = worst > STATUS_REFUSED ? worst : STATUS_REFUSED;
            continue;
        }
        enum status one = test_one(options, words(load, "name"), list, &over);
        worst = one > worst ? one : worst;
    }
    cJSON_Delete(status);
    return worst;
}

static void print_json(cJSON *list)
{
    char *text = cJSON_Print(list);
    if (text)
        puts(text);
    free(text);
}

enum status test_main(struct invocation *at, int argc, char *argv[])
{
    bool all = false, no_wait = false, json = false, over;
    const struct option_row rows[] = {{"--all", NULL, &all, NULL},
                                      {"--no-wait", NULL, &no_wait, NULL},
                                      {"--json", NULL, &json, NULL},
                                      {0}};
    int count = options_read(at, rows, argc, argv);
    if (count < 0)
        return options_status(count);
    if (count != (all ? 0 : 1))
        return complain_usage(at, "test");
    if (!all && !control_word_ok(argv[1], "a load's name"))
        return STATUS_USAGE;
    if (!all && strlen(argv[1]) >= TEST_NAME_MAX)
        return complain(STATUS_USAGE, "\"%.40s...\" is too long for a load's name", argv[1]);
    struct test_options options = {
        .socket = at->socket, .no_wait = no_wait, .say = json ? NULL : say_progress};
    cJSON *list = json ? cJSON_CreateArray() : NULL;
    test_signals_hold();
    enum status status = all ? test_all(&options, list) : test_one(&options, argv[1], list, &over);
    test_signals_release();
    if (list)
        print_json(list);
    cJSON_Delete(list);
    return status;
}
