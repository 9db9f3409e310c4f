/* engine.c - the pure engine among its edges: what goes in, and where what comes
 * out goes.
 *
 * In: the reading as of now, orders, the outputs' confirmations. Out: what each
 * output shall be, events and changed reasons for the ledger and the log. */
#include "engine.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "grid.h"
#include "loop/log.h"
#include "order_gate.h"
#include "remember.h"
#include "sources.h"
#include "troubles.h"
#include "values/values.h"

enum { ADOPT_WAIT_MS = 20 * MS_PER_S };

/* A load is ordered by hand, or inhibited, or enabled: of each only the last counts. */
static bool same_matter(const struct command *a, const struct command *b)
{
    bool by_hand = a->kind <= COMMAND_AUTO && b->kind <= COMMAND_AUTO;
    return a->load == b->load && (by_hand || a->kind == b->kind);
}

bool engine_order(struct site *site, const struct command *command)
{
    for (uint16_t k = 0; k < site->command_count; k++)
        if (same_matter(&site->commands[k], command)) {
            site->commands[k] = *command;
            return true;
        }
    if (site->command_count == SITE_COMMANDS_MAX)
        return false;
    site->commands[site->command_count++] = *command;
    return true;
}

/* ---- confirmations -------------------------------------------------------------- */

static bool is_news(const struct confirmation *a, const struct confirmation *b)
{
    return a->health != b->health || a->level_w != b->level_w;
}

static bool was_ordered_off(const struct site *site, uint16_t index)
{
    const struct load_memory *load = &site->loads[index];
    return site->memory.all_inhibited || load->inhibited || load->hand == HAND_OFF;
}

/* Remembered on: until its device says what it has, nothing is ordered, so that a run goes on
 * without the contactor moving. A board may be silent for a moment; not for longer. */
static void adopt_if_remembered(struct site *site, uint16_t index,
                                const struct confirmation *confirmation)
{
    if (!site->adopt[index])
        return;
    bool reads = confirmation->health == OUTPUT_CONFIRMED;
    bool over = mono_since_ms(site->now.mono, site->started) >= ADOPT_WAIT_MS ||
                was_ordered_off(site, index) || !output_can_say(&site->settings->outputs[index]);
    site->adopt[index] = !reads && !over;
    if (!reads || over || confirmation->level_w == 0)
        return;
    rules_adopt(&site->settings->rules, &site->memory, index, site->now);
    site_note(site, site->settings->names[index].name, "found on and remembered on: goes on");
}

static void tell_output(struct site *site, uint16_t index, const struct confirmation *confirmation)
{
    const char *name = site->settings->names[index].name;
    char id[MQTT_ID_MAX];
    site_trouble_id(id, "output", name);
    bool bad = confirmation->health == OUTPUT_FAILED || confirmation->health == OUTPUT_UNSAFE;
    if (bad)
        site_trouble(site, id, "output of %s: %s%s%s", name,
                     output_health_text(confirmation->health),
                     outputs_detail(site->outputs, index)[0] ? ": " : "",
                     outputs_detail(site->outputs, index));
    else if (confirmation->health == OUTPUT_CONFIRMED)
        site_solved(site, id);
}

/* The outputs' news since the engine was last told. */
static uint16_t gather_confirmations(struct site *site, struct confirmation news[])
{
    uint16_t count = 0;
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        struct confirmation confirmation = outputs_confirmation(site->outputs, i);
        adopt_if_remembered(site, i, &confirmation);
        if (!is_news(&confirmation, &site->confirmed[i]))
            continue;
        site->confirmed[i] = confirmation;
        tell_output(site, i, &confirmation);
        news[count] = confirmation;
        news[count++].load = i;
    }
    return count;
}

/* ---- what comes out --------------------------------------------------------------- */

static const char *const denied_text[DENIED_COUNT] = {
    [DENIED_HOURS] = "hours or daily maximum",   [DENIED_RESTS] = "minimum off and starts per hour",
    [DENIED_ORDER] = "orders or no power drawn", [DENIED_OUTPUT] = "the output",
    [DENIED_SUPPLY] = "the supply limit",
};

static void write_missing(struct text *text, enum floor_measure measure, int64_t number)
{
    quantity_write(measure == FLOOR_ENERGY ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS,
                   measure == FLOOR_ENERGY ? number : number / MS_PER_MIN * MS_PER_MIN, text);
}

static void note_missed(struct site *site, const struct rules_event *event)
{
    const struct floor_settings *floor = &site->settings->loads[event->load].floor[event->floor];
    char line[LEDGER_EVENT_MAX];
    struct text text = text_in(line, sizeof(line));
    text_add(&text, "floor %u missed by ", event->floor + 1u);
    write_missing(&text, floor->measure, event->number);
    for (int cause = 0; cause < DENIED_COUNT; cause++)
        if (event->denied_ms[cause] >= MS_PER_MIN) {
            text_add(&text, "; denied by %s for ", denied_text[cause]);
            write_missing(&text, FLOOR_TIME, event->denied_ms[cause]);
        }
    site_note(site, site->settings->names[event->load].name, "%s", line);
}

static void note_event(struct site *site, const struct rules_event *event)
{
    const char *name = event->load < site->settings->rules.load_count
                           ? site->settings->names[event->load].name
                           : "site";
    switch (event->kind) {
    case EVENT_FLOOR_MET:
        site_note(site, name, "floor %d met", (int)event->number + 1);
        break;
    case EVENT_FLOOR_MISSED:
        note_missed(site, event);
        break;
    case EVENT_SATISFIED:
        site_note(site, name,
                  event->number
                      ? "has stopped drawing for the first time: possibly its thermostat; "
                        "not known before it has been full once more"
                      : "satisfied: the thermostat has opened");
        break;
    case EVENT_NO_DRAW:
        site_note(site, name,
                  "draws nothing when on: not known why (possible element, breaker, "
                  "contactor or thermostat; isolate before opening)");
        break;
    case EVENT_STUCK:
        site_note(site, name,
                  "off, but the meter did not fall by its %" PRId64
                  " W: possible contact that stays closed; isolate before opening",
                  event->number);
        break;
    case EVENT_FLOOR_UNPROVEN:
        site_note(site, name,
                  "floor %d was run, but nothing shows whether it drew: not known if met",
                  (int)event->number + 1);
        break;
    case EVENT_POWER_DIFFERS:
        site_note(site, name, "draws %" PRId64 " W, more than 12 %% off its nameplate of %d W",
                  event->number, site->settings->loads[event->load].power_w);
        break;
    case EVENT_HAND_ENDED:
        site_note(site, name, "the order by hand has ended");
        break;
    case EVENT_SHED:
        site_note(site, name, "shed: the supply limit was passed");
        break;
    case EVENT_FOUND_ON:
        site_note(site, name, "found on though it was off (another hand?): ordered off");
        break;
    case EVENT_FOUND_OFF:
        site_note(site, name,
                  "found off though it was on (another hand, or a reset of its board?): "
                  "minimum off begins");
        break;
    case EVENT_DAY_ENDED:
        site_note(site, name, "a new day begins");
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
static void note_reason(struct site *site, uint16_t index)
{
    const struct reason *reason = &site->decisions[index].reason;
    if (site->told[index] == reason->code)
        return;
    bool still_waiting = is_waiting(site->told[index]) && is_waiting(reason->code);
    site->told[index] = reason->code;
    if (still_waiting)
        return;
    char line[LEDGER_EVENT_MAX];
    struct text text = text_in(line, sizeof(line));
    decision_text(site->settings, &site->decisions[index], &text);
    site_note(site, site->settings->names[index].name, "%s", line);
}

static void want(struct site *site, uint16_t index)
{
    const struct decision *decision = &site->decisions[index];
    if (site->adopt[index])
        return; /* still asked what it has */
    site->keep_now |= decision->on != site->was_on[index];
    site->was_on[index] = decision->on;
    outputs_want(site->outputs, index, decision->on ? decision->level_w : 0, decision->stage,
                 site->now.mono);
}

void engine_turn(struct site *site)
{
    struct confirmation news[SETTINGS_LOADS_MAX];
    struct mono last = site->memory.last.mono;
    bool begun = site->memory.begun;
    int64_t dt_ms = begun ? mono_since_ms(site->now.mono, last) : 0;
    grid_book(site, dt_ms);
    remember_book(site, dt_ms);
    sources_settle(site);
    struct rules_input input = {
        .reading = &site->reading,
        .load_reading = site->load_reading,
        .commands = site->commands,
        .command_count = site->command_count,
        .confirmations = news,
        .confirmation_count = gather_confirmations(site, news),
        .now = site->now,
    };
    rules_turn(&site->settings->rules, &site->memory, &input, site->decisions, &site->outcome);
    site->keep_now |= order_gate_turn(site);
    site->command_count = 0;
    for (uint8_t k = 0; k < site->outcome.event_count; k++)
        note_event(site, &site->outcome.event[k]);
    for (uint16_t i = 0; i < site->settings->rules.load_count; i++) {
        note_reason(site, i);
        want(site, i);
    }
    site->news = outputs_turn(site->outputs, site->now.mono);
    if (site->retired)
        outputs_turn(site->retired, site->now.mono);
}
