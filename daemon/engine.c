/* engine.c - the pure engine among its edges: what goes in, and where what comes
 * out goes.
 *
 * In: the reading as of now, orders, the outputs' confirmations. Out: what each
 * output shall be, events and changed reasons for the ledger and the log. */
#include "engine.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "denied.h"
#include "loop/log.h"
#include "order_gate.h"
#include "remember.h"
#include "troubles.h"
#include "values/values.h"

enum { ADOPT_WAIT_MS = 20 * MS_PER_S, MWH_PER_10_WH = 10000 };

/* A load is ordered by hand, or inhibited, or enabled: of each only the last counts. */
static bool same_matter(const struct command *a, const struct command *b)
{
    bool by_hand = a->kind <= COMMAND_AUTO && b->kind <= COMMAND_AUTO;
    return a->load == b->load && (by_hand || a->kind == b->kind);
}

static void drop_order(struct engine *engine, uint16_t index)
{
    engine->command_count--;
    memmove(&engine->commands[index], &engine->commands[index + 1],
            (engine->command_count - index) * sizeof(engine->commands[0]));
}

/* The last word stands behind all that were said before it, also on another matter. */
bool engine_order(struct engine *engine, const struct command *command)
{
    for (uint16_t k = 0; k < engine->command_count; k++)
        if (same_matter(&engine->commands[k], command)) {
            drop_order(engine, k);
            break;
        }
    if (engine->command_count == SITE_COMMANDS_MAX)
        return false;
    engine->commands[engine->command_count++] = *command;
    return true;
}

/* ---- confirmations -------------------------------------------------------------- */

static bool is_news(const struct confirmation *a, const struct confirmation *b)
{
    return a->health != b->health || a->level_w != b->level_w;
}

static bool was_ordered_off(const struct engine *engine, uint16_t index)
{
    const struct load_memory *load = &engine->loads[index];
    return engine->memory.all_inhibited || load->inhibited || load->hand == HAND_OFF;
}

/* Remembered on: until its device says what it has, nothing is ordered, so that a run goes on
 * without the contactor moving; so too until what may inhibit it is read. A board may be
 * silent for a moment; not for longer. */
static void adopt_if_remembered(struct engine *engine, struct common *common, uint16_t index,
                                const struct confirmation *confirmation, bool inhibit_unread)
{
    if (!engine->adopt[index])
        return;
    bool reads = confirmation->health == OUTPUT_CONFIRMED && !inhibit_unread;
    bool over = mono_since_ms(common->now.mono, common->started) >= ADOPT_WAIT_MS ||
                was_ordered_off(engine, index) ||
                !output_can_say(&common->settings->outputs[index]);
    engine->adopt[index] = !reads && !over;
    if (!reads || over || confirmation->level_w == 0)
        return;
    rules_adopt(&common->settings->rules, &engine->memory, index, common->now);
    site_note(common, common->settings->names[index].name, "found on and remembered on: goes on");
}

static void tell_output(struct common *common, const struct outputs *outputs, uint16_t index,
                        const struct confirmation *confirmation)
{
    const char *name = common->settings->names[index].name;
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "output", name);
    bool bad = confirmation->health == OUTPUT_FAILED || confirmation->health == OUTPUT_UNSAFE;
    if (bad)
        site_trouble_of_load(common, index, "output", "output of %s: %s%s%s", name,
                             output_health_text(confirmation->health),
                             outputs_detail(outputs, index)[0] ? ": " : "",
                             outputs_detail(outputs, index));
    else if (confirmation->health == OUTPUT_CONFIRMED)
        site_solved(common, id);
}

/* The outputs' news since the engine was last told. */
static void gather_confirmations(struct engine *engine, const struct inputs *inputs,
                                 const struct outputs *outputs, struct common *common)
{
    engine->news_count = 0;
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        struct confirmation confirmation = outputs_confirmation(outputs, i);
        adopt_if_remembered(engine, common, i, &confirmation, inputs->inhibit_unread[i]);
        if (!is_news(&confirmation, &engine->confirmed[i]))
            continue;
        engine->confirmed[i] = confirmation;
        tell_output(common, outputs, i, &confirmation);
        confirmation.load = i;
        engine->news[engine->news_count++] = confirmation;
    }
}

/* ---- what comes out --------------------------------------------------------------- */

/* To 10 Wh, or to the minute. */
static void write_missing(struct text *text, enum floor_measure measure, int64_t number)
{
    if (measure == FLOOR_ENERGY)
        quantity_write(QUANTITY_ENERGY_MWH, number / MWH_PER_10_WH * MWH_PER_10_WH, text);
    else
        quantity_write(QUANTITY_DURATION_MS, number / MS_PER_MIN * MS_PER_MIN, text);
}

static void note_missed(struct common *common, const struct rules_event *event)
{
    const struct floor_settings *floor = &common->settings->loads[event->load].floor[event->floor];
    char line[LEDGER_EVENT_MAX];
    struct text text = text_in(line, sizeof(line));
    text_add(&text, "floor %u missed by ", event->floor + 1u);
    write_missing(&text, floor->measure, event->number);
    for (int cause = 0; cause < DENIED_COUNT; cause++)
        if (event->denied_ms[cause] >= MS_PER_MIN) {
            text_add(&text, "; denied by %s for ", denied_text((enum denied_by)cause));
            write_missing(&text, FLOOR_TIME, event->denied_ms[cause]);
        }
    site_note(common, common->settings->names[event->load].name, "%s", line);
}

static void keep_experiments(struct engine *engine)
{
    for (uint8_t k = 0; k < engine->outcome.observed.experiment_count; k++) {
        const struct experiment *experiment = &engine->outcome.observed.experiment[k];
        if (experiment->kind == EXPERIMENT_START)
            engine->last_start[experiment->load] = *experiment;
        else if (experiment->kind == EXPERIMENT_STOP)
            engine->last_stop[experiment->load] = *experiment;
    }
}

/* A finding says the same with more behind it: one cause is told once. */
static bool is_found(const struct common *common, const struct rules_event *event)
{
    switch (event->kind) {
    case EVENT_NO_DRAW:
        return site_has_finding(common, event->load, FINDING_NO_POWER) ||
               site_has_finding(common, event->load, FINDING_NOT_CLOSING) ||
               site_has_finding(common, event->load, FINDING_ELEMENT_OPEN);
    case EVENT_STUCK:
        return site_has_finding(common, event->load, FINDING_CONTACT_STUCK);
    case EVENT_POWER_DIFFERS:
        return site_has_finding(common, event->load, FINDING_ELEMENT_PART) ||
               site_has_finding(common, event->load, FINDING_ELEMENT_DRIFT);
    default:
        return false;
    }
}

static void note_event(struct common *common, const struct rules_event *event)
{
    const char *name = event->load < common->settings->rules.load_count
                           ? common->settings->names[event->load].name
                           : "site";
    switch (event->kind) {
    case EVENT_FLOOR_MET:
        site_note(common, name, "floor %d met", (int)event->number + 1);
        break;
    case EVENT_FLOOR_MISSED:
        note_missed(common, event);
        break;
    case EVENT_SATISFIED:
        site_note(common, name,
                  event->number
                      ? "has stopped drawing for the first time: possibly its thermostat; "
                        "not known before it has been full once more"
                      : "satisfied: the thermostat has opened");
        break;
    case EVENT_NO_DRAW:
        site_note(common, name,
                  "draws nothing when on: not known why (possible element, breaker, "
                  "contactor or thermostat; isolate before opening)");
        break;
    case EVENT_STUCK:
        site_note(common, name,
                  "off, but the meter did not fall by its %" PRId64
                  " W: possible contact that stays closed; isolate before opening",
                  event->number);
        break;
    case EVENT_FLOOR_UNPROVEN:
        site_note(common, name,
                  "floor %d was run, but nothing shows whether it drew: not known if met",
                  (int)event->number + 1);
        break;
    case EVENT_POWER_DIFFERS:
        site_note(common, name, "draws %" PRId64 " W, more than 12 %% off its nameplate of %d W",
                  event->number, common->settings->loads[event->load].power_w);
        break;
    case EVENT_HAND_ENDED:
        site_note(common, name, "the manual order has ended");
        break;
    case EVENT_SHED:
        site_note(common, name, "shed: the supply limit was passed");
        break;
    case EVENT_FOUND_ON:
        site_note(common, name, "found on though it was off (another hand?): ordered off");
        break;
    case EVENT_FOUND_OFF:
        site_note(common, name,
                  "found off though it was on (another hand, or a reset of its board?): "
                  "minimum off begins");
        break;
    case EVENT_DAY_ENDED:
        site_note(common, name, "a new day begins");
        break;
    }
}

/* While a load waits for its turn these come and go with each cloud. */
static bool is_waiting(enum reason_code code)
{
    return code == REASON_OFF_SPARE || code == REASON_OFF_SETTLING ||
           code == REASON_OFF_MINIMUM_OFF || code == REASON_OFF_STARTS ||
           code == REASON_OFF_RESTART || code == REASON_OFF_UNSHOWN || code == REASON_OFF_TAKEOVER;
}

/* One line when a load starts, stops or does either for another reason; the
 * numbers in between are not news, nor what it waits for while it waits. */
static void note_reason(struct engine *engine, struct common *common, uint16_t index)
{
    const struct reason *reason = &engine->decisions[index].reason;
    if (engine->told[index] == reason->code)
        return;
    bool still_waiting = is_waiting(engine->told[index]) && is_waiting(reason->code);
    engine->told[index] = reason->code;
    if (still_waiting)
        return;
    char line[LEDGER_EVENT_MAX];
    struct text text = text_in(line, sizeof(line));
    decision_text(common->settings, &engine->decisions[index], &text);
    site_note(common, common->settings->names[index].name, "%s", line);
}

/* True: it is switched by it. */
static bool want(struct engine *engine, uint16_t index, struct outputs *outputs, struct mono now)
{
    const struct decision *decision = &engine->decisions[index];
    if (engine->adopt[index])
        return false; /* still asked what it has */
    bool changed = decision->on != engine->was_on[index];
    engine->was_on[index] = decision->on;
    outputs_want(outputs, index, decision->on ? decision->level_w : 0, decision->stage, now);
    return changed;
}

int64_t engine_since_turn_ms(const struct engine *engine, struct mono now)
{
    return engine->memory.begun ? mono_since_ms(now, engine->memory.last.mono) : 0;
}

bool engine_turn(struct engine *engine, const struct inputs *inputs, struct outputs *outputs,
                 struct common *common)
{
    gather_confirmations(engine, inputs, outputs, common);
    struct rules_input input = {
        .reading = &inputs->reading,
        .load_reading = inputs->load_reading,
        .commands = engine->commands,
        .command_count = engine->command_count,
        .confirmations = engine->news,
        .confirmation_count = engine->news_count,
        .now = common->now,
    };
    rules_turn(&common->settings->rules, &engine->memory, &input, engine->decisions,
               &engine->outcome);
    bool to_save = order_gate_turn(&engine->orders, common);
    engine->command_count = 0;
    for (uint8_t k = 0; k < engine->outcome.event_count; k++)
        if (!is_found(common, &engine->outcome.event[k]))
            note_event(common, &engine->outcome.event[k]);
    keep_experiments(engine);
    for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
        note_reason(engine, common, i);
        to_save |= want(engine, i, outputs, common->now.mono);
    }
    return to_save;
}

/* ---- at a reload ------------------------------------------------------------------------- */

/* Loads that stay keep all they remember, by the one way from settings to settings; new ones
 * begin, or go on from when they were here before. */
static void carry_memory(struct engine *engine, struct common *common,
                         const struct settings *before, struct settings *after)
{
    static struct load_memory was[SETTINGS_LOADS_MAX]; /* too large for a stack */
    struct rules_memory site_memory = engine->memory;
    memcpy(was, engine->loads, sizeof(was));
    rules_begin(&after->rules, &engine->memory, engine->loads, common->now, site_memory.seed);
    site_memory.loads = engine->loads;
    site_memory.calendar_from = site_memory.calendar_until = (struct wall){0};
    site_memory.takeover_load = LOAD_ALL;
    engine->memory = site_memory;
    for (uint16_t j = 0; j < after->rules.load_count; j++) {
        int i = settings_find_load(before, after->names[j].name);
        if (i < 0) {
            remember_again(engine, common, after->names[j].name, &after->rules, j);
            continue;
        }
        engine->loads[j] = was[i];
        rules_load_migrate(&after->rules, &engine->memory, j, &before->loads[i], common->now, NULL);
    }
    for (uint16_t j = 0; j < SETTINGS_LOADS_MAX; j++) {
        engine->confirmed[j] = (struct confirmation){0};
        engine->told[j] = REASON_NONE;
        engine->adopt[j] = false;
        engine->last_start[j] = engine->last_stop[j] = (struct experiment){0};
    }
}

/* Orders of this very turn, by the loads' new numbers. */
static void carry_orders(struct engine *engine, const struct settings *before,
                         const struct settings *after)
{
    uint16_t count = 0;
    for (uint16_t k = 0; k < engine->command_count; k++) {
        struct command command = engine->commands[k];
        int load = command.load == LOAD_ALL
                       ? LOAD_ALL
                       : settings_find_load(after, before->names[command.load].name);
        if (load < 0)
            continue;
        command.load = (uint16_t)load;
        engine->commands[count++] = command;
    }
    engine->command_count = count;
}

void engine_carry(struct engine *engine, struct common *common, const struct settings *before,
                  struct settings *after)
{
    carry_memory(engine, common, before, after);
    carry_orders(engine, before, after);
}
