/* A promise is a row (how to sample the truth, how to combine the samples: sum,
 * least or greatest), a span of time, and a comparison. "relay off" is the
 * greatest of on-or-off being 0; "shortest-run" the least of the runs that
 * ended. A span that never came is a broken promise too: a scenario that checks
 * nothing must not pass. */
#include "must.h"

#include <math.h>
#include <string.h>

enum combine { COMBINE_SUM, COMBINE_LEAST, COMBINE_GREATEST };

struct must_row {
    const char *word, *second; /* second: NULL, or a fixed word such as "off" */
    bool of_load;
    enum quantity_kind kind;
    double scale;     /* inside unit of the quantity to the sample's */
    const char *unit; /* of the sample */
    enum combine combine;
    enum must_test fixed_test; /* with `second`: compared with fixed_value */
    double fixed_value;
    /* NAN: nothing to see in this step. */
    double (*sample)(const struct world *world, const struct house_load *load, int phase);
};

static double step_s(const struct world *world)
{
    return (double)world->step_ms / MS_PER_S;
}

static double sample_relay(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->relay;
}

static double sample_drawing(const struct world *world, const struct house_load *load, int phase)
{
    (void)phase;
    return load->draw_w >= DRAWING_W ? step_s(world) : 0;
}

static double sample_on(const struct world *world, const struct house_load *load, int phase)
{
    (void)phase;
    return load->relay ? step_s(world) : 0;
}

static double sample_energy(const struct world *world, const struct house_load *load, int phase)
{
    (void)phase;
    return load->draw_w * step_s(world) / 3600;
}

static double sample_sun(const struct world *world, const struct house_load *load, int phase)
{
    (void)phase;
    return load->sun_w * step_s(world) / 3600;
}

static double sample_grid(const struct world *world, const struct house_load *load, int phase)
{
    (void)phase;
    return load->grid_w * step_s(world) / 3600;
}

static double sample_cycles(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->switched_on;
}

static double sample_run(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->switched_off ? load->last_run_s : (double)NAN;
}

/* The rest before the first run began before the scenario did. */
static double sample_rest(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->switched_on && load->cycles > 1 ? load->last_rest_s : (double)NAN;
}

static double sample_hottest(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->settings->kind == HOUSE_HEATER ? heater_top_c(&load->heater) : (double)NAN;
}

static double sample_power(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->draw_w;
}

/* What a charger is offered while it is offered anything. */
static double sample_offered(const struct world *world, const struct house_load *load, int phase)
{
    (void)world, (void)phase;
    return load->offered_a > 0 ? load->offered_a : (double)NAN;
}

static double sample_charge(const struct world *world, const struct house_load *load, int phase)
{
    (void)load, (void)phase;
    return world->battery.charged_kwh / world->battery.settings.capacity_kwh * 100;
}

static double sample_tap(const struct world *world, const struct house_load *load, int phase)
{
    (void)load, (void)phase;
    return world->hot_c;
}

static double sample_spoilt(const struct world *world, const struct house_load *load, int phase)
{
    (void)load, (void)phase;
    return world->spoilt_step_s;
}

static double sample_import(const struct world *world, const struct house_load *load, int phase)
{
    (void)load, (void)phase;
    return fmax(0, world->grid.total_w) * step_s(world) / 3600;
}

static double sample_export(const struct world *world, const struct house_load *load, int phase)
{
    (void)load, (void)phase;
    return fmax(0, -world->grid.total_w) * step_s(world) / 3600;
}

static double sample_amps(const struct world *world, const struct house_load *load, int phase)
{
    (void)load;
    return world->grid.phase_w[phase] > 0 ? world->grid.phase_a[phase] : 0;
}

static const struct must_row rows[] = {
    {"relay", "on", true, 0, 1, "", COMBINE_LEAST, TEST_EQUAL, 1, sample_relay},
    {"relay", "off", true, 0, 1, "", COMBINE_GREATEST, TEST_EQUAL, 0, sample_relay},
    {"drawing", NULL, true, QUANTITY_DURATION_MS, 1e-3, "s", COMBINE_SUM, 0, 0, sample_drawing},
    {"relay-time", NULL, true, QUANTITY_DURATION_MS, 1e-3, "s", COMBINE_SUM, 0, 0, sample_on},
    {"energy", NULL, true, QUANTITY_ENERGY_MWH, 1e-3, "Wh", COMBINE_SUM, 0, 0, sample_energy},
    {"sun-energy", NULL, true, QUANTITY_ENERGY_MWH, 1e-3, "Wh", COMBINE_SUM, 0, 0, sample_sun},
    {"grid-energy", NULL, true, QUANTITY_ENERGY_MWH, 1e-3, "Wh", COMBINE_SUM, 0, 0, sample_grid},
    {"cycles", NULL, true, QUANTITY_COUNT, 1, "", COMBINE_SUM, 0, 0, sample_cycles},
    {"shortest-run", NULL, true, QUANTITY_DURATION_MS, 1e-3, "s", COMBINE_LEAST, 0, 0, sample_run},
    {"longest-run", NULL, true, QUANTITY_DURATION_MS, 1e-3, "s", COMBINE_GREATEST, 0, 0,
     sample_run},
    {"shortest-rest", NULL, true, QUANTITY_DURATION_MS, 1e-3, "s", COMBINE_LEAST, 0, 0,
     sample_rest},
    {"hottest", NULL, true, QUANTITY_TEMPERATURE_MC, 1e-3, "C", COMBINE_GREATEST, 0, 0,
     sample_hottest},
    {"power", NULL, true, QUANTITY_POWER_W, 1, "W", COMBINE_GREATEST, 0, 0, sample_power},
    {"least-power", NULL, true, QUANTITY_POWER_W, 1, "W", COMBINE_LEAST, 0, 0, sample_power},
    {"least-offered", NULL, true, QUANTITY_CURRENT_MA, 1e-3, "A", COMBINE_LEAST, 0, 0,
     sample_offered},
    {"most-offered", NULL, true, QUANTITY_CURRENT_MA, 1e-3, "A", COMBINE_GREATEST, 0, 0,
     sample_offered},
    {"charge", NULL, false, QUANTITY_SHARE_PERMILLE, 0.1, "%", COMBINE_LEAST, 0, 0, sample_charge},
    {"tap", NULL, false, QUANTITY_TEMPERATURE_MC, 1e-3, "C", COMBINE_LEAST, 0, 0, sample_tap},
    {"spoilt", NULL, false, QUANTITY_DURATION_MS, 1e-3, "s", COMBINE_SUM, 0, 0, sample_spoilt},
    {"import", NULL, false, QUANTITY_ENERGY_MWH, 1e-3, "Wh", COMBINE_SUM, 0, 0, sample_import},
    {"export", NULL, false, QUANTITY_ENERGY_MWH, 1e-3, "Wh", COMBINE_SUM, 0, 0, sample_export},
    {"amps", NULL, false, QUANTITY_CURRENT_MA, 1e-3, "A", COMBINE_GREATEST, 0, 0, sample_amps},
};
enum { ROW_COUNT = sizeof(rows) / sizeof(rows[0]) };

static bool read_row(struct must *must, struct cursor *cursor)
{
    for (int i = 0; i < ROW_COUNT; i++) {
        const struct must_row *row = &rows[i];
        if (row->of_load != (must->load >= 0) || strcmp(row->word, cursor_peek(cursor)) != 0)
            continue;
        bool more = cursor->next + 1 < cursor->count;
        if (row->second && !(more && strcmp(row->second, cursor->word[cursor->next + 1]) == 0))
            continue;
        cursor->next += row->second ? 2 : 1;
        must->row = row;
        return true;
    }
    return cursor_fail(
        cursor, must->load >= 0 ? "relay on, relay off, drawing, relay-time, energy, sun-energy, "
                                  "grid-energy, cycles, shortest-run, longest-run, shortest-rest, "
                                  "hottest, power, least-power, least-offered or most-offered"
                                : "a load's name, charge, tap, spoilt, import, export or amps");
}

static bool read_test(struct must *must, struct cursor *cursor)
{
    static const char *const tests[] = {
        [TEST_AT_LEAST] = ">=", [TEST_AT_MOST] = "<=", [TEST_EQUAL] = "="};
    int test;
    if (must->row->second) {
        must->test = must->row->fixed_test;
        must->value = must->row->fixed_value;
        return true;
    }
    if (!cursor_choice(cursor, tests, 3, &test, ">=, <= or ="))
        return false;
    must->test = (enum must_test)test;
    if (!cursor_quantity(cursor, must->row->kind, must->row->scale, &must->value))
        return false;
    return !cursor_match(cursor, "within") ||
           cursor_quantity(cursor, QUANTITY_DURATION_MS, 1e-3, &must->within_s);
}

static bool read_span(struct must *must, struct cursor *cursor)
{
    int64_t day;
    if (cursor_match(cursor, "day")) {
        if (!cursor_count(cursor, 400, &day, "a day, 1 is the first"))
            return false;
        must->day = (int)day;
    }
    if (cursor_match(cursor, "by")) {
        must->span = SPAN_BY;
        return cursor_time(cursor, &must->to_s);
    }
    if (cursor_match(cursor, "after")) {
        must->span = SPAN_AFTER_EXIT;
        return cursor_match(cursor, "exit") || cursor_fail(cursor, "exit");
    }
    if (cursor_ended(cursor) && !must->day) {
        must->span = SPAN_WHOLE;
        return true;
    }
    must->span = SPAN_WINDOW;
    if (cursor_ended(cursor)) {
        must->to_s = 86400;
        return true;
    }
    return cursor_span(cursor, "..", &must->from_s, &must->to_s);
}

bool must_read(struct must *must, const struct scenario *scenario, struct cursor *cursor)
{
    struct text text = text_in(must->text, sizeof(must->text));
    for (int i = 0; i < cursor->count; i++)
        if (i > 0 || strcmp(cursor->word[i], "must") != 0)
            text_add(&text, " %s", cursor->word[i]);
    must->load = scenario_load(scenario, cursor_peek(cursor));
    if (must->load >= 0)
        cursor->next++;
    if (!read_row(must, cursor))
        return false;
    uint8_t phases = 1;
    if (strcmp(must->row->word, "amps") == 0 && cursor_peek(cursor)[0] == 'L' &&
        !cursor_phases(cursor, &phases))
        return false;
    must->phase = __builtin_ctz(phases);
    return read_test(must, cursor) && read_span(must, cursor);
}

void musts_init(struct musts *musts, const struct scenario *scenario)
{
    memset(musts, 0, sizeof(*musts));
    musts->scenario = scenario;
}

static bool passes(const struct must *must, double value)
{
    switch (must->test) {
    case TEST_AT_LEAST:
        return value >= must->value;
    case TEST_AT_MOST:
        return value <= must->value;
    case TEST_EQUAL:
        return fabs(value - must->value) < 1e-9;
    }
    return false;
}

static bool holds(const struct must *must, const struct must_state *state)
{
    if (!state->any && must->row->combine == COMBINE_LEAST)
        return must->row->second == NULL; /* no run was too short; but an unseen relay isn't on */
    if (!state->any && must->row->combine == COMBINE_GREATEST)
        return must->test == TEST_AT_MOST;
    return passes(must, state->sum);
}

/* A breach that has not yet lasted too long. */
static bool forgiven(const struct must *must, struct must_state *state, double sample, double dt_s)
{
    state->breach_s = passes(must, sample) ? 0 : state->breach_s + dt_s;
    return state->breach_s > 0 && state->breach_s <= must->within_s;
}

/* The beginning of the step that world_step has just taken. */
static int64_t step_began_ms(const struct world *world)
{
    return world_wall(world).ms - world->step_ms;
}

static void judge(const struct must *must, struct must_state *state, int64_t now_ms)
{
    state->judged++;
    if (!holds(must, state) && state->broken++ == 0) {
        state->worst = state->any || must->row->combine == COMBINE_SUM ? state->sum : (double)NAN;
        state->broken_ms = must->row->second && state->offence_ms ? state->offence_ms : now_ms;
    }
    state->sum = 0;
    state->any = state->in_span = false;
    state->offence_ms = 0;
}

static void take(const struct must *must, struct must_state *state, const struct world *world)
{
    const struct house_load *load = must->load >= 0 ? &world->load[must->load] : NULL;
    double sample = must->row->sample(world, load, must->phase);
    state->in_span = true;
    if (isnan(sample))
        return;
    if (must->within_s > 0 && forgiven(must, state, sample, step_s(world)))
        return;
    if (must->row->second && sample != must->row->fixed_value && state->offence_ms == 0)
        state->offence_ms = step_began_ms(world);
    if (must->row->combine == COMBINE_SUM)
        state->sum += sample;
    else if (!state->any)
        state->sum = sample;
    else
        state->sum = must->row->combine == COMBINE_LEAST ? fmin(state->sum, sample)
                                                         : fmax(state->sum, sample);
    state->any = true;
}

static bool in_window(const struct must *must, const struct scenario *scenario, struct local local)
{
    int day = local.day - scenario->start_day + 1;
    bool over_midnight = must->to_s <= must->from_s;
    if (over_midnight && local.second < must->to_s)
        day--; /* it began yesterday */
    if (must->day && day != must->day)
        return false;
    return over_midnight ? local.second >= must->from_s || local.second < must->to_s
                         : local.second >= must->from_s && local.second < must->to_s;
}

/* The step that begins at `local` is the first at or after the deadline. */
static bool deadline_reached(const struct must *must, const struct musts *musts,
                             const struct world *world)
{
    struct local local = world->local;
    struct wall due = wall_of_local(&musts->scenario->house.zone, local.day, must->to_s);
    int64_t begins = step_began_ms(world);
    if (must->to_s == 86400)
        due = wall_of_local(&musts->scenario->house.zone, local.day - 1, must->to_s);
    return begins >= due.ms && begins < due.ms + musts->scenario->step_ms &&
           begins > musts->scenario->house.start.ms;
}

/* world_step has just taken the step that began at world->local. */
void musts_step(struct musts *musts, const struct world *world)
{
    for (int i = 0; i < musts->scenario->must_count; i++) {
        const struct must *must = &musts->scenario->must[i];
        struct must_state *state = &musts->state[i];
        switch (must->span) {
        case SPAN_WHOLE:
            take(must, state, world);
            break;
        case SPAN_BY:
            if (deadline_reached(must, musts, world)) {
                int day = world->local.day - musts->scenario->start_day + 1;
                if (!must->day || day == must->day)
                    judge(must, state, step_began_ms(world));
                *state = (struct must_state){.judged = state->judged,
                                             .broken = state->broken,
                                             .worst = state->worst,
                                             .broken_ms = state->broken_ms};
            }
            take(must, state, world);
            break;
        case SPAN_WINDOW:
            if (in_window(must, musts->scenario, world->local))
                take(must, state, world);
            else if (state->in_span)
                judge(must, state, step_began_ms(world));
            break;
        case SPAN_AFTER_EXIT:
            break;
        }
    }
}

void musts_end(struct musts *musts, const struct world *world)
{
    for (int i = 0; i < musts->scenario->must_count; i++) {
        const struct must *must = &musts->scenario->must[i];
        struct must_state *state = &musts->state[i];
        struct local now = local_of_wall(&musts->scenario->house.zone, world_wall(world));
        bool at_deadline = must->span == SPAN_BY && now.second == must->to_s % 86400;
        if (must->span == SPAN_WHOLE || (must->span == SPAN_WINDOW && state->in_span) ||
            at_deadline)
            judge(must, state, world_wall(world).ms);
    }
}

void musts_after_exit(struct musts *musts, const struct world *world)
{
    for (int i = 0; i < musts->scenario->must_count; i++) {
        const struct must *must = &musts->scenario->must[i];
        if (must->span != SPAN_AFTER_EXIT)
            continue;
        take(must, &musts->state[i], world);
        judge(must, &musts->state[i], step_began_ms(world));
    }
}

static void write_seen(const struct must *must, double value, struct text *text)
{
    if (isnan(value))
        text_add(text, "nothing seen");
    else if (must->row->second)
        text_add(text, "it was %s", strcmp(must->row->second, "on") == 0 ? "off" : "on");
    else if (must->row->kind == QUANTITY_DURATION_MS)
        quantity_write(QUANTITY_DURATION_MS, (int64_t)(value * 1000), text);
    else
        text_add(text, "%.10g%s%s", value, must->row->unit[0] ? " " : "", must->row->unit);
}

static void write_when(const struct scenario *scenario, int64_t wall_ms, struct text *text)
{
    struct local local = local_of_wall(&scenario->house.zone, (struct wall){wall_ms});
    text_add(text, "day %d %02d:%02d:%02d", local.day - scenario->start_day + 1,
             local.second / 3600, local.second / 60 % 60, local.second % 60);
}

int musts_report(const struct musts *musts, const char *path, FILE *to)
{
    int broken = 0;
    for (int i = 0; i < musts->scenario->must_count; i++) {
        const struct must *must = &musts->scenario->must[i];
        const struct must_state *state = &musts->state[i];
        if (state->judged > 0 && state->broken == 0)
            continue;
        char seen[96];
        struct text text = text_in(seen, sizeof(seen));
        if (state->judged == 0) {
            text_add(&text, "that time never came");
        } else {
            write_seen(must, state->worst, &text);
            text_add(&text, ", ");
            write_when(musts->scenario, state->broken_ms, &text);
        }
        fprintf(to, "%s:%d: must%s: %s\n", path, must->line, must->text, seen);
        broken++;
    }
    return broken;
}
