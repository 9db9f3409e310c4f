/* orders.c - orders from people, by socket or by MQTT: one grammar, one answer.
 *
 * An order that cannot be understood changes nothing, and the answer quotes it. One that
 * is obeyed is answered with what it will come to, asked of the engine itself: an order
 * says what somebody wants, not that nothing stands against it. */
#include "orders.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "order_gate.h"
#include "terms/order.h"
#include "troubles.h"
#include "values/values.h"

static bool find_load(const struct settings *settings, const char *name, uint16_t *index,
                      struct text *answer)
{
    const char *names[SETTINGS_LOADS_MAX];
    uint16_t count = settings->rules.load_count;
    int found = settings_find_load(settings, name);
    if (found >= 0) {
        *index = (uint16_t)found;
        return true;
    }
    for (uint16_t i = 0; i < count; i++)
        names[i] = settings->names[i].name;
    const char *nearest = text_nearest(name, names, count);
    text_add(answer, "there is no load \"%.40s\"", name);
    if (nearest)
        text_add(answer, "; do you mean \"%s\"?", nearest);
    return false;
}

static bool give(struct engine *engine, const struct command *command, struct text *answer)
{
    bool news = order_gate_is_news(engine, command);
    if (engine_order(engine, command)) {
        engine->orders.unsaved |= news;
        engine->orders.record &= news;
        return true;
    }
    text_add(answer, "too many orders at once: try again");
    return false;
}

/* One that changed nothing, or is one too many to be written down, is obeyed in silence. */
static void note(const struct orders *orders, struct common *common, const char *subject,
                 const char *verb, const char *what)
{
    if (orders->record)
        site_note(common, subject, "ordered %s: %s%.60s", order_gate_source(orders), verb, what);
}

/* As people say it: to the minute, unless it is shorter. */
static int64_t rounded_ms(int64_t left_ms)
{
    int64_t unit = left_ms < MS_PER_MIN ? MS_PER_S : MS_PER_MIN;
    return (left_ms + unit / 2) / unit * unit;
}

/* What has to be waited is not told as less than it is. */
static int64_t rounded_up_ms(int64_t wait_ms)
{
    int64_t unit = wait_ms < MS_PER_MIN ? MS_PER_S : MS_PER_MIN;
    return (wait_ms + unit - 1) / unit * unit;
}

/* `wait_ms` of it pass before it begins. */
static void write_end_after(const struct common *common, struct mono until, int64_t wait_ms,
                            struct text *answer)
{
    if (until.ms == MONO_NEVER.ms) {
        text_add(answer, ", no end time");
        return;
    }
    int64_t left_ms = mono_since_ms(until, common->now.mono);
    struct local local =
        local_of_wall(&common->settings->rules.zone,
                      (struct wall){common->now.wall.ms + left_ms + MS_PER_MIN / 2});
    text_add(answer, " for ");
    quantity_write(QUANTITY_DURATION_MS, rounded_ms(left_ms - wait_ms), answer);
    if (common->now.wall_trusted)
        text_add(answer, ", until %02d:%02d", local.second / 3600, local.second / 60 % 60);
}

static void write_end(const struct common *common, struct mono until, struct text *answer)
{
    write_end_after(common, until, 0, answer);
}

/* ---- what it will come to --------------------------------------------------------------- */

/* The turn that follows on the orders given so far, of which the caller's may be the last. */
struct outlook {
    struct load_memory loads[SETTINGS_LOADS_MAX];
    struct decision decisions[SETTINGS_LOADS_MAX];
    struct foresight foresight;
};

static void look_ahead(const struct ordering *ordering, uint16_t load, struct outlook *outlook)
{
    const struct engine *engine = ordering->engine;
    const struct common *common = ordering->common;
    const struct rules_input input = {.reading = &ordering->inputs->reading,
                                      .load_reading = ordering->inputs->load_reading,
                                      .commands = engine->commands,
                                      .command_count = engine->command_count,
                                      .now = common->now};
    outlook->foresight =
        (struct foresight){.loads = outlook->loads, .decisions = outlook->decisions};
    rules_foresee(&common->settings->rules, &engine->memory, &input, load, &outlook->foresight);
}

static bool all_will_be_inhibited(const struct engine *engine)
{
    bool inhibited = engine->memory.all_inhibited;
    for (uint16_t k = 0; k < engine->command_count; k++)
        if (engine->commands[k].kind == COMMAND_INHIBIT && engine->commands[k].load == LOAD_ALL)
            inhibited = engine->commands[k].flag;
    return inhibited;
}

/* What somebody at the screen can do about it. */
static void write_remedy(const struct ordering *ordering, uint16_t load,
                         const struct outlook *outlook, struct text *answer)
{
    const struct settings *settings = ordering->common->settings;
    const char *detail = outputs_detail(ordering->outputs, load);
    switch (outlook->decisions[load].reason.code) {
    case REASON_OFF_INHIBIT:
        if (outlook->loads[load].inhibited)
            text_add(answer, "; to lift it: sluice allow %s", settings->names[load].name);
        if (all_will_be_inhibited(ordering->engine))
            text_add(answer, "; to lift that of all loads: sluice allow all");
        break;
    case REASON_OFF_OUTPUT:
        if (*detail)
            text_add(answer, " (%s)", detail);
        break;
    case REASON_OFF_MINIMUM_OFF:
    case REASON_OFF_STARTS:
    case REASON_OFF_RESTART:
        text_add(answer, "; this run would be over before that");
        break;
    case REASON_OFF_HOURS:
    case REASON_OFF_CLOCK:
    case REASON_OFF_DAILY_MAXIMUM:
        if (settings->loads[load].strict)
            text_add(answer, "; \"strict: yes\" binds manual runs too");
        break;
    default:
        break;
    }
}

static void write_decision(const struct ordering *ordering, uint16_t load,
                           const struct outlook *outlook, struct text *answer)
{
    decision_text(ordering->common->settings, &outlook->decisions[load], answer);
    if (!outlook->decisions[load].on)
        write_remedy(ordering, load, outlook, answer);
}

static bool output_may_be_on(const struct engine *engine, uint16_t load)
{
    return !output_is_known((enum output_health)engine->loads[load].health);
}

/* A start is foreseen as if the output obeyed: one that has never answered may not. */
static void write_silence(const struct engine *engine, uint16_t load, struct text *answer)
{
    if (!engine->loads[load].confirmed_once && !output_may_be_on(engine, load))
        text_add(answer, "; its output has not answered yet");
}

static void write_wait(const struct settings *settings, const struct outlook *outlook,
                       struct text *answer)
{
    decision_text(settings, &outlook->foresight.waiting, answer);
    text_add(answer, "; starts in ");
    quantity_write(QUANTITY_DURATION_MS, rounded_up_ms(outlook->foresight.wait_ms), answer);
}

/* A manual run ends when it was ordered to end, however late it starts: the end is what
 * people plan by, and an order that comes twice does no more than it says. */
static void write_run(const struct ordering *ordering, const struct command *command,
                      struct text *answer)
{
    const struct common *common = ordering->common;
    struct outlook outlook;
    look_ahead(ordering, command->load, &outlook);
    int64_t wait_ms = outlook.foresight.wait_ms;
    if (!outlook.decisions[command->load].on) {
        text_add(answer, "ordered on manually");
        write_end(common, command->until, answer);
        text_add(answer, ", but it stays ");
        write_decision(ordering, command->load, &outlook, answer);
        return;
    }
    if (wait_ms == 0) {
        text_add(answer, "on manually");
        write_end(common, command->until, answer);
        write_silence(ordering->engine, command->load, answer);
        return;
    }
    write_wait(common->settings, &outlook, answer);
    text_add(answer, ", then on manually");
    write_end_after(common, command->until, wait_ms, answer);
    write_silence(ordering->engine, command->load, answer);
}

static void write_now(const struct ordering *ordering, uint16_t load, struct text *answer)
{
    struct outlook outlook;
    look_ahead(ordering, load, &outlook);
    if (outlook.decisions[load].on && outlook.foresight.wait_ms > 0)
        write_wait(ordering->common->settings, &outlook, answer);
    else
        write_decision(ordering, load, &outlook, answer);
    write_silence(ordering->engine, load, answer);
}

static void write_doubt(const struct engine *engine, uint16_t load, struct text *answer)
{
    if (output_may_be_on(engine, load))
        text_add(answer, "; its output is %s: it may still be on",
                 output_health_text((enum output_health)engine->loads[load].health));
}

/* `text`: as it was ordered. */
static bool obey(const struct ordering *ordering, const struct command *command, const char *text,
                 struct text *answer)
{
    struct engine *engine = ordering->engine;
    struct common *common = ordering->common;
    const char *load = common->settings->names[command->load].name;
    if (!give(engine, command, answer))
        return false;
    text_add(answer, "%s: ", load);
    if (command->kind == COMMAND_ON) {
        write_run(ordering, command, answer);
    } else if (command->kind == COMMAND_OFF) {
        text_add(answer, "off manually");
        write_end(common, command->until, answer);
        write_doubt(engine, command->load, answer);
        write_silence(engine, command->load, answer);
    } else {
        text_add(answer, "automatic; now ");
        write_now(ordering, command->load, answer);
    }
    note(&engine->orders, common, load, "", text);
    return true;
}

bool order_load(const struct ordering *ordering, const char *load, const char *text,
                struct text *answer)
{
    struct common *common = ordering->common;
    struct command command;
    struct trouble trouble;
    uint16_t index;
    if (!find_load(common->settings, load, &index, answer))
        return false;
    if (!order_parse(text, &common->settings->rules.zone, common->now, &command, &trouble)) {
        text_add(answer, "%s", trouble.text);
        return false;
    }
    command.load = index;
    return obey(ordering, &command, text, answer);
}

/* ---- as a switch says it ----------------------------------------------------------------- */

/* What is in force, or will be with the next turn, as the order that leaves it as it is. */
static struct command in_force(const struct engine *engine, uint16_t load)
{
    static const enum command_kind kinds[] = {
        [HAND_AUTO] = COMMAND_AUTO, [HAND_ON] = COMMAND_ON, [HAND_OFF] = COMMAND_OFF};
    const struct load_memory *memory = &engine->loads[load];
    struct command command = {.kind = kinds[memory->hand],
                              .load = load,
                              .until = memory->hand_until,
                              .level_w = memory->hand_level_w};
    for (uint16_t k = 0; k < engine->command_count; k++)
        if (engine->commands[k].load == load && engine->commands[k].kind <= COMMAND_AUTO)
            command = engine->commands[k];
    return command;
}

static bool kind_of_mode(const char *word, enum command_kind *kind, struct text *answer)
{
    static const char *const words[] = {
        [COMMAND_ON] = "on", [COMMAND_OFF] = "off", [COMMAND_AUTO] = "auto"};
    for (int k = COMMAND_ON; k <= COMMAND_AUTO; k++) {
        *kind = (enum command_kind)k;
        if (strcmp(word, words[k]) == 0)
            return true;
    }
    text_add(answer, "\"%.40s\" is none of auto, on, off", word);
    return false;
}

/* A switch that says again what it shows must not make a run of 2 h one of 24 h. */
bool order_mode(const struct ordering *ordering, const char *load, const char *word,
                struct text *answer)
{
    const struct common *common = ordering->common;
    enum command_kind kind;
    uint16_t index;
    if (!find_load(common->settings, load, &index, answer) || !kind_of_mode(word, &kind, answer))
        return false;
    struct command command = in_force(ordering->engine, index);
    if (command.kind != kind)
        command = (struct command){.kind = kind,
                                   .load = index,
                                   .until = kind == COMMAND_ON
                                                ? mono_after(common->now.mono, ORDER_LONGEST_ON_MS)
                                                : MONO_NEVER};
    return obey(ordering, &command, word, answer);
}

bool order_run_for(const struct ordering *ordering, const char *load, const char *minutes,
                   struct text *answer)
{
    const struct common *common = ordering->common;
    char text[32];
    int64_t left_ms = strtol(minutes, NULL, 10) * MS_PER_MIN; /* checked digits: its property */
    uint16_t index;
    if (!find_load(common->settings, load, &index, answer))
        return false;
    struct command command = in_force(ordering->engine, index);
    if (left_ms > 0)
        command = (struct command){
            .kind = COMMAND_ON, .load = index, .until = mono_after(common->now.mono, left_ms)};
    else if (command.kind == COMMAND_ON)
        command = (struct command){.kind = COMMAND_AUTO, .load = index, .until = MONO_NEVER};
    snprintf(text, sizeof(text), "run for %.8s min", minutes);
    return obey(ordering, &command, text, answer);
}

/* Whoever tests a load sees by the status what becomes of it. */
bool order_test(const struct ordering *ordering, const char *load, const char *text,
                struct text *answer)
{
    struct command command;
    struct trouble trouble;
    uint16_t index;
    if (!find_load(ordering->common->settings, load, &index, answer))
        return false;
    if (!order_parse_test(text, ordering->common->now, &command, &trouble)) {
        text_add(answer, "%s", trouble.text);
        return false;
    }
    command.load = index;
    if (!give(ordering->engine, &command, answer))
        return false;
    text_add(answer, "%s: under test: %s", load, text);
    note(&ordering->engine->orders, ordering->common, load, "test ", text);
    return true;
}

/* In the form in which an order is written. */
static void write_local(const struct zone *zone, struct wall wall, struct text *answer)
{
    struct local local = local_of_wall(zone, wall);
    struct date date = date_of_days(local.day);
    text_add(answer, "%04d-%02u-%02u %02d:%02d", date.year, date.month, date.day,
             local.second / 3600, local.second / 60 % 60);
}

/* ---- holiday ------------------------------------------------------------------------------ */

/* Loads that go on as ever have nothing to be ready for. */
static void write_return(const struct settings *settings, struct wall now, uint16_t load,
                         struct wall back, struct text *answer)
{
    const char *name = settings->names[load].name;
    struct return_view view = rules_return(&settings->rules, load, now, back);
    if (settings->loads[load].normal_on_holiday) {
        text_add(answer, "; %s goes on as usual", name);
    } else if (!view.heats_up) {
        if (settings->loads[load].thermostat)
            text_add(answer, "; %s is not heated before the return (heat_up is not set)", name);
    } else if (view.short_ms >= MS_PER_MIN) {
        text_add(answer, "; %s will NOT be hot at the return: its heat-up is short of ", name);
        quantity_write(QUANTITY_DURATION_MS, rounded_up_ms(view.short_ms), answer);
    } else {
        text_add(answer, "; %s is heated from ", name);
        write_local(&settings->rules.zone, view.from, answer);
        text_add(answer, " on");
    }
}

/* By hand it runs on holiday too. */
static void write_by_hand(const struct engine *engine, const struct settings *settings,
                          uint16_t load, struct text *answer)
{
    if (engine->loads[load].hand == HAND_ON)
        text_add(answer, "; %s runs on manually", settings->names[load].name);
}

bool order_holiday(const struct ordering *ordering, const char *text, struct text *answer)
{
    struct engine *engine = ordering->engine;
    struct common *common = ordering->common;
    struct command command = {.kind = COMMAND_HOLIDAY, .load = LOAD_ALL};
    struct trouble trouble;
    if (!order_parse_holiday(text, &common->settings->rules.zone, common->now, &command.back,
                             &trouble)) {
        text_add(answer, "%s", trouble.text);
        return false;
    }
    if (!give(engine, &command, answer))
        return false;
    if (command.back.ms == 0) {
        text_add(answer, "holiday ended");
    } else {
        text_add(answer, "holiday until ");
        write_local(&common->settings->rules.zone, command.back, answer);
        for (uint16_t i = 0; i < common->settings->rules.load_count; i++) {
            write_return(common->settings, common->now.wall, i, command.back, answer);
            write_by_hand(engine, common->settings, i, answer);
        }
    }
    note(&engine->orders, common, "site", "holiday ", text);
    return true;
}

static bool parse_yes_no(const char *word, bool *yes, struct text *answer)
{
    *yes = strcmp(word, "yes") == 0 || strcmp(word, "true") == 0;
    if (*yes || strcmp(word, "no") == 0 || strcmp(word, "false") == 0)
        return true;
    text_add(answer, "\"%.40s\" is neither yes nor no", word);
    return false;
}

bool order_inhibit(const struct ordering *ordering, const char *load, const char *word,
                   struct text *answer)
{
    struct engine *engine = ordering->engine;
    struct common *common = ordering->common;
    struct command command = {.kind = COMMAND_INHIBIT, .load = LOAD_ALL};
    bool all = strcmp(load, "all") == 0;
    if (!parse_yes_no(word, &command.flag, answer) ||
        (!all && !find_load(common->settings, load, &command.load, answer)) ||
        !give(engine, &command, answer))
        return false;
    text_add(answer, "%s: ", load);
    if (command.flag) {
        text_add(answer, "inhibited (this is not isolation: isolate all supplies and prove dead)");
        for (uint16_t i = 0; i < common->settings->rules.load_count; i++)
            if ((all || i == command.load) && output_may_be_on(engine, i))
                text_add(answer, "; %s may still be on: its output is %s",
                         common->settings->names[i].name,
                         output_health_text((enum output_health)engine->loads[i].health));
    } else {
        text_add(answer, "inhibit lifted");
        if (!all) {
            text_add(answer, "; now ");
            write_now(ordering, command.load, answer);
        }
    }
    note(&engine->orders, common, all ? "site" : load, "inhibit ", command.flag ? "yes" : "no");
    return true;
}

bool order_enable(const struct ordering *ordering, const char *load, const char *word,
                  struct text *answer)
{
    struct engine *engine = ordering->engine;
    struct common *common = ordering->common;
    struct command command = {.kind = COMMAND_ENABLE};
    if (!parse_yes_no(word, &command.flag, answer) ||
        !find_load(common->settings, load, &command.load, answer) ||
        !give(engine, &command, answer))
        return false;
    text_add(answer, "%s: %s; now ", load,
             command.flag ? "enabled" : "disabled: runs only when ordered manually");
    write_now(ordering, command.load, answer);
    note(&engine->orders, common, load, "enable ", command.flag ? "yes" : "no");
    return true;
}
