/* describe.c - what the settings mean, in plain sentences for the electrician and the
 * household: what each load will do, what is guaranteed, and what cannot be. */
#include <string.h>

#include "settings.h"

enum { LINE_MAX_BYTES = 400 };

static void say(FILE *to, const struct text *text)
{
    fprintf(to, "  %s\n", text->at);
}

static const char *phases_text(uint8_t phases)
{
    static const char *const words[] = {"no phase", "L1",        "L2",        "L1 and L2",
                                        "L3",       "L1 and L3", "L2 and L3", "all three phases"};
    return words[phases & 7];
}

static void describe_kind(FILE *to, const struct load_settings *load)
{
    char buffer[LINE_MAX_BYTES];
    struct text text = text_in(buffer, sizeof(buffer));
    quantity_write(QUANTITY_POWER_W, load->power_w, &text);
    text_add(&text, " on %s; ", phases_text(load->phases));
    switch (load->kind) {
    case LOAD_SWITCHED:
        text_add(&text, "one contactor.");
        break;
    case LOAD_STAGED:
        text_add(&text, "%u contactors, closed one after another.", load->stages);
        break;
    case LOAD_SETPOINT:
        text_add(&text, "follows a set-point from ");
        quantity_write(QUANTITY_POWER_W, load->least_w, &text);
        text_add(&text, " up. Its supply is never switched.");
        break;
    default:
        text_add(&text, "a start contact that it obeys in its own time. Its supply is never "
                        "switched.");
    }
    say(to, &text);
}

static void describe_spare(FILE *to, const struct load_settings *load)
{
    char buffer[LINE_MAX_BYTES];
    struct text text = text_in(buffer, sizeof(buffer));
    int32_t start_w = load->kind == LOAD_SETPOINT ? load->least_w
                      : load->kind == LOAD_STAGED ? load->stage_w[0]
                                                  : load->power_w;
    if (!load->uses_spare) {
        text_add(&text, "Never runs on spare power, only for its floors and by hand.");
        say(to, &text);
        return;
    }
    text_add(&text, "Starts when ");
    if (load->start_permille) {
        quantity_write(QUANTITY_POWER_W, (int64_t)start_w * load->start_permille / 1000, &text);
        text_add(&text, " has been spare for ");
    } else {
        text_add(&text, "the part of ");
        quantity_write(QUANTITY_POWER_W, start_w, &text);
        text_add(&text, " that pays by the tariff has been spare for ");
    }
    quantity_write(QUANTITY_DURATION_MS, load->settle_start_ms, &text);
    text_add(&text, "; stops when that has fallen by ");
    quantity_write(QUANTITY_POWER_W, load->stop_margin_w, &text);
    text_add(&text, " for ");
    quantity_write(QUANTITY_DURATION_MS, load->settle_stop_ms, &text);
    text_add(&text, ".");
    say(to, &text);
}

static void describe_limits(FILE *to, const struct load_settings *load)
{
    char buffer[LINE_MAX_BYTES];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "Runs at least ");
    quantity_write(QUANTITY_DURATION_MS, load->min_on_ms, &text);
    text_add(&text, ", rests at least ");
    quantity_write(QUANTITY_DURATION_MS, load->min_off_ms, &text);
    if (load->starts_per_hour)
        text_add(&text, ", starts at most %u times an hour", load->starts_per_hour);
    if (load->hours.count) {
        text_add(&text, ", only in ");
        hours_write(&load->hours, &text);
    }
    if (load->daily_max_ms) {
        text_add(&text, ", at most ");
        quantity_write(QUANTITY_DURATION_MS, load->daily_max_ms, &text);
        text_add(&text, " a day");
    }
    text_add(&text, load->strict ? "; a run by hand too."
                                 : "; a run by hand may pass hours and "
                                   "daily maximum.");
    say(to, &text);
}

static void describe_floor(FILE *to, const struct floor_settings *floor)
{
    char buffer[LINE_MAX_BYTES];
    struct text text = text_in(buffer, sizeof(buffer));
    text_add(&text, "Guaranteed: ");
    if (floor->measure == FLOOR_SATISFIED)
        text_add(&text, "heated until the thermostat opens");
    else
        quantity_write(floor->measure == FLOOR_ENERGY ? QUANTITY_ENERGY_MWH : QUANTITY_DURATION_MS,
                       floor->amount, &text);
    text_add(&text, floor->measure == FLOOR_TIME ? " of drawing power by " : " by ");
    quantity_write(QUANTITY_TIME_S, floor->by_s, &text);
    text_add(&text, " ");
    if (floor->every_days)
        text_add(&text, "at least once in %u days", floor->every_days);
    else
        weekdays_write(floor->weekdays, &text);
    text_add(&text, ", whatever the weather; ");
    text_add(&text, floor->grid == FLOOR_IN_CHEAPEST_HOURS
                        ? "bought in the cheapest hours that keep it, with "
                        : "bought at the latest safe start, with ");
    quantity_write(QUANTITY_DURATION_MS, floor->reserve_ms, &text);
    text_add(&text, " in reserve.");
    say(to, &text);
}

static void describe_output(FILE *to, const struct output_settings *output)
{
    char buffer[LINE_MAX_BYTES];
    struct text text = text_in(buffer, sizeof(buffer));
    const char *fail = output->fail_state == OUTPUT_FAIL_ON ? "on" : "off";
    switch (output->kind) {
    case OUTPUT_COIL:
    case OUTPUT_REGISTER:
        text_add(&text, "Switched by %s %u of unit %u on bus %s%s; fail state %s.",
                 output->kind == OUTPUT_COIL ? "coil" : "register", output->address[0],
                 output->unit, output->bus, output->read_back ? ", read back" : "", fail);
        break;
    case OUTPUT_TOPIC:
        text_add(&text, "Switched by messages on %s; fail state %s, while the broker is there.",
                 output->topic, fail);
        break;
    default:
        text_add(&text, "Switched by line %u of %s; fail state %s.", output->line, output->chip,
                 fail);
    }
    say(to, &text);
}

static void describe_load(FILE *to, const struct settings *settings, uint16_t index)
{
    const struct load_settings *load = &settings->loads[index];
    fprintf(to, "\n%s (%s), priority %u\n", settings->names[index].title,
            settings->names[index].name, load->priority);
    describe_kind(to, load);
    describe_spare(to, load);
    for (uint8_t k = 0; k < load->floor_count; k++)
        describe_floor(to, &load->floor[k]);
    if (load->floor_count == 0)
        fprintf(to, "  Nothing is guaranteed: it runs when there is power to spare, or by hand.\n");
    describe_limits(to, load);
    describe_output(to, &settings->outputs[index]);
}

static bool has_board(const struct settings *settings)
{
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (settings->outputs[i].kind == OUTPUT_COIL ||
            settings->outputs[i].kind == OUTPUT_REGISTER)
            return true;
    return false;
}

static bool has_satisfied_floor(const struct load_settings *load)
{
    for (uint8_t k = 0; k < load->floor_count; k++)
        if (load->floor[k].measure == FLOOR_SATISFIED)
            return true;
    return false;
}

static void describe_notices(FILE *to, const struct settings *settings)
{
    fprintf(to, "\nNotices\n");
    if (has_board(settings))
        fprintf(to, "  A relay board without a communication time-out of its own keeps its last "
                    "state when\n  this controller loses its power: its fail state cannot be "
                    "promised then.\n");
    if (settings->zone_is_odd)
        fprintf(to,
                "  The system's file of zone %s lists coming clock changes that its rule does "
                "not give:\n  local times may be wrong around them.\n",
                settings->timezone);
    for (uint16_t i = 0; i < settings->rules.load_count; i++)
        if (settings->loads[i].thermostat && !has_satisfied_floor(&settings->loads[i]))
            fprintf(to,
                    "  %s has a thermostat but no floor that heats it until satisfied: against "
                    "Legionella\n  add one, such as {measure: satisfied, amount: 5 h, "
                    "every_days: 7, by: \"17:00\"}.\n",
                    settings->names[i].name);
    fprintf(to, "  Off, inhibited or in its fail state is not isolated: isolate all supplies and "
                "prove dead.\n");
}

void settings_describe(const struct settings *settings, FILE *to)
{
    const struct rules_settings *rules = &settings->rules;
    char buffer[LINE_MAX_BYTES];
    struct text text = text_in(buffer, sizeof(buffer));
    quantity_write(QUANTITY_CURRENT_MA, rules->supply_limit_ma, &text);
    fprintf(to, "%s: %u phase%s, main switch %s a phase, clock of %s\n", settings->site_name,
            rules->phase_count, rules->phase_count == 1 ? "" : "s", buffer, settings->timezone);
    for (uint8_t k = 0; k < settings->meter_count; k++)
        fprintf(to, "  Meter %s: unit %u on bus %s, map %s, each %g s%s\n",
                settings->meters[k].name, settings->meters[k].unit, settings->meters[k].bus,
                settings->meters[k].map_name, settings->meters[k].every_ms / 1000.0,
                settings->meters[k].inverted ? ", inverted" : "");
    for (uint16_t place = 0; place < rules->load_count; place++)
        describe_load(to, settings, rules->order[place]);
    describe_notices(to, settings);
}
