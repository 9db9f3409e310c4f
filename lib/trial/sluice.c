/* sluice.c - the rules themselves, asked as the daemon asks them.
 *
 * One reading a turn, made from the house as a meter would show it; an order reaches
 * its output after `answer_ms`, and its confirmation comes with the first reading that
 * shows the load. Between two readings that are alike the rules need not be asked until
 * what they said ceases to hold.
 *
 * Where all is decided in steps, a step begins with the few turns that an order, its
 * confirmation and the reading after it take, each a second later by the rules' clock;
 * the house takes them as one moment. */
#include <stdlib.h>

#include "rules/kind.h"
#include "trial/run_inside.h"

enum { ANSWER_MS = MS_PER_S, STEP_TURNS_MAX = 5, EVENTS_MAX = STEP_TURNS_MAX * RULES_EVENTS_MAX };

/* The clock since boot, as the days begin: a while ago, as for a daemon in service. */
#define BOOTED_MS ((int64_t)10 * MS_PER_DAY)
#define NEVER_MS INT64_MAX

struct order {
    int32_t level_w;
    uint8_t stage;
    int64_t due_ms; /* when the output answers; NEVER_MS: it has */
};

struct sluice {
    struct rules_memory memory;
    struct load_memory loads[TRIAL_LOADS_MAX];
    struct decision decision[TRIAL_LOADS_MAX];
    struct confirmation confirmation[TRIAL_LOADS_MAX];
    struct load_reading own[TRIAL_LOADS_MAX];
    struct heat_memory heat[TRIAL_LOADS_MAX];
    struct order order[TRIAL_LOADS_MAX];
    struct reading reading;
    uint16_t answered;
    bool has_own_meters, reads_tank;
    int64_t answer_ms, due_ms, holds_ms, asked_ms;
    struct rules_event event[EVENTS_MAX]; /* not yet handed over */
    uint8_t event_count;
};

bool sluice_check(const struct trial_home *home, const struct trial_plan *plan,
                  struct trouble *trouble)
{
    if (!plan->rules)
        return trouble_set(trouble, "", "there are no rules to run");
    if (plan->rules->load_count != home->load_count)
        return trouble_set(trouble, "", "the rules have %d loads, the home has %d",
                           plan->rules->load_count, home->load_count);
    if (plan->rules->battery)
        return trouble_set(trouble, "",
                           "the settings have a battery, of which days hold nothing: without "
                           "its reading no power would ever be spare");
    return true;
}

struct sluice *sluice_new(void)
{
    return calloc(1, sizeof(struct sluice));
}

void sluice_free(struct sluice *sluice)
{
    free(sluice);
}

const struct decision *sluice_decisions(const struct run *run)
{
    return run->sluice ? run->sluice->decision : NULL;
}

/* Nobody takes them where nothing is traced; then they stay, and the rest is lost. */
static void keep_events(struct sluice *sluice, const struct rules_outcome *outcome)
{
    for (int k = 0; k < outcome->event_count && sluice->event_count < EVENTS_MAX; k++)
        sluice->event[sluice->event_count++] = outcome->event[k];
}

const struct rules_event *sluice_events(struct run *run, uint8_t *count)
{
    *count = run->sluice ? run->sluice->event_count : 0;
    if (!run->sluice)
        return NULL;
    run->sluice->event_count = 0;
    return run->sluice->event;
}

static struct moment moment_at(const struct run *run, int64_t wall_ms)
{
    return (struct moment){{BOOTED_MS + wall_ms - run->days->first.ms}, {wall_ms}, true};
}

void sluice_begin(struct run *run)
{
    struct sluice *sluice = run->sluice;
    rules_begin(run->plan->rules, &sluice->memory, sluice->loads, moment_at(run, run->t_ms),
                run->plan->seed);
    for (uint16_t i = 0; i < run->plan->rules->load_count; i++)
        rules_learn(run->plan->rules, &sluice->memory, i, &sluice->heat[i]);
    sluice->reading.grid.quality = READING_FRESH;
    sluice->reading.has = HAS_GRID_POWER;
    if (run->plan->rules->phase_count > 1)
        sluice->reading.has |= HAS_PHASE_POWER;
    if (run->plan->rules->solar) {
        sluice->reading.has |= HAS_SOLAR_POWER;
        sluice->reading.solar.quality = READING_FRESH;
    }
    sluice->reads_tank = run->plan->reads_tank_temperature && run->home->tank_count > 0;
    sluice->answer_ms = run->plan->answer_ms > 0 ? run->plan->answer_ms : ANSWER_MS;
    sluice->due_ms = run->t_ms;
    for (int i = 0; i < run->home->load_count; i++) {
        sluice->order[i].due_ms = run->t_ms; /* outputs tell that they are off */
        bool metered = run->plan->rules->loads[i].metered;
        sluice->own[i].power.quality = metered ? READING_FRESH : READING_ABSENT;
        sluice->own[i].tank.quality = sluice->reads_tank ? READING_FRESH : READING_ABSENT;
        sluice->has_own_meters |= metered;
    }
}

static void apply(struct run *run, int i)
{
    const struct load_settings *settings = &run->plan->rules->loads[i];
    const struct order *order = &run->sluice->order[i];
    const struct kind *kind = kind_of(settings);
    if (kind->follows)
        load_offer(run, i, order->level_w, 0);
    else if (kind->has_stages)
        load_offer(run, i, order->level_w * run->load[i].scale, order->stage);
    else
        load_offer(run, i, order->level_w > 0 ? run->load[i].full_w : 0, order->level_w > 0);
}

/* In steps, what was ordered at a step's beginning holds from there on. */
static void take_answers(struct run *run, int64_t now_ms)
{
    struct sluice *sluice = run->sluice;
    sluice->answered = 0;
    if (now_ms < sluice->due_ms && !run->plan->in_steps)
        return;
    sluice->due_ms = NEVER_MS;
    for (int i = 0; i < run->home->load_count; i++) {
        struct order *order = &sluice->order[i];
        bool waits = order->due_ms > now_ms && !run->plan->in_steps;
        if (waits && order->due_ms < sluice->due_ms)
            sluice->due_ms = order->due_ms;
        if (waits || order->due_ms == NEVER_MS)
            continue;
        order->due_ms = NEVER_MS;
        apply(run, i);
        sluice->confirmation[sluice->answered++] =
            (struct confirmation){.load = (uint16_t)i,
                                  .health = OUTPUT_CONFIRMED,
                                  .level_w = order->level_w,
                                  .at = moment_at(run, now_ms).mono};
    }
}

/* Faster than the library's, which must mind the rounding mode. */
static int32_t whole(double w)
{
    return (int32_t)(w < 0 ? w - 0.5 : w + 0.5);
}

static bool put(int32_t *place, int32_t value)
{
    bool news = *place != value;
    *place = value;
    return news;
}

/* The household and the roof spread evenly, each load over its own phases. */
static bool read_phases(const struct run *run, struct reading *reading)
{
    const struct rules_settings *rules = run->plan->rules;
    double phase_w[PHASES] = {0};
    for (int p = 0; p < rules->phase_count; p++)
        phase_w[p] = (run->cursor.use_w - run->solar_w) / rules->phase_count;
    for (int i = 0; i < run->home->load_count; i++) {
        int count = phases_count(rules->loads[i].phases);
        for (int p = 0; p < rules->phase_count; p++)
            if (rules->loads[i].phases >> p & 1)
                phase_w[p] += run->load[i].draw_w / count;
    }
    bool news = false;
    for (int p = 0; p < rules->phase_count; p++)
        news |= put(&reading->phase_power_w[p], whole(phase_w[p]));
    return news;
}

static int32_t sensed_mc(const struct run *run)
{
    const struct heater *heater = &run->store[0].heater;
    return whole(1000 * tank_at_c(&heater->tank, heater->settings.sensor_height));
}

/* Only what the sun, the household and the loads themselves change. */
static bool read_powers(struct run *run, struct reading *reading)
{
    bool throttled = run->solar_w < run->cursor.solar_w;
    bool news = put(&reading->grid_power_w, whole(run->grid_w));
    if (run->plan->rules->solar)
        news |= put(&reading->solar_power_w, whole(run->solar_w));
    news |= throttled != reading->inverter_throttled;
    reading->inverter_throttled = throttled;
    return news;
}

static bool read_own_meters(struct run *run)
{
    bool news = false;
    for (int i = 0; i < run->home->load_count; i++)
        news |= put(&run->sluice->own[i].power_w, whole(run->load[i].draw_w));
    return news;
}

static bool look_at_meters(struct run *run)
{
    struct sluice *sluice = run->sluice;
    struct reading *reading = &sluice->reading;
    bool news = read_powers(run, reading);
    for (int i = 0; sluice->reads_tank && i < run->home->load_count; i++)
        news |= put(&sluice->own[i].tank_temperature_mc, sensed_mc(run));
    if (sluice->has_own_meters)
        news |= read_own_meters(run);
    if (reading->has & HAS_PHASE_POWER)
        news |= read_phases(run, reading);
    return news;
}

static void give_orders(struct run *run, int64_t now_ms)
{
    struct sluice *sluice = run->sluice;
    for (int i = 0; i < run->home->load_count; i++) {
        const struct decision *decision = &sluice->decision[i];
        struct order *order = &sluice->order[i];
        int32_t level_w = decision->on ? decision->level_w : 0;
        uint8_t stage = decision->on ? decision->stage : 0;
        if (level_w == order->level_w && stage == order->stage)
            continue;
        order->level_w = level_w;
        order->stage = stage;
        order->due_ms = now_ms + sluice->answer_ms;
        if (order->due_ms < sluice->due_ms)
            sluice->due_ms = order->due_ms;
    }
}

static void stamp_source(struct source *source, struct mono now)
{
    source->sequence++;
    source->taken = now;
}

/* All meters are read at one moment. */
static void stamp(struct sluice *sluice, struct mono now)
{
    stamp_source(&sluice->reading.grid, now);
    stamp_source(&sluice->reading.solar, now);
    for (int i = 0; i < TRIAL_LOADS_MAX; i++) {
        stamp_source(&sluice->own[i].power, now);
        stamp_source(&sluice->own[i].tank, now);
    }
}

static void ask(struct run *run, int64_t now_ms)
{
    struct sluice *sluice = run->sluice;
    struct rules_outcome outcome;
    stamp(sluice, moment_at(run, now_ms).mono);
    struct rules_input input = {.reading = &sluice->reading,
                                .load_reading = sluice->own,
                                .confirmations = sluice->confirmation,
                                .confirmation_count = sluice->answered,
                                .now = moment_at(run, now_ms)};
    rules_turn(run->plan->rules, &sluice->memory, &input, sluice->decision, &outcome);
    run->outcome->turns++;
    keep_events(sluice, &outcome);
    sluice->asked_ms = now_ms;
    sluice->holds_ms = NEVER_MS;
    if (outcome.holds_until.ms < NEVER_MS - MS_PER_DAY)
        sluice->holds_ms = outcome.holds_until.ms - BOOTED_MS + run->days->first.ms;
    give_orders(run, now_ms);
}

static int64_t next_ms(const struct run *run)
{
    const struct sluice *sluice = run->sluice;
    int64_t next = sluice->holds_ms < sluice->due_ms ? sluice->holds_ms : sluice->due_ms;
    int64_t ask_ms = sluice->asked_ms + (int64_t)run->plan->ask_s * MS_PER_S;
    return run->plan->ask_s > 0 && ask_ms < next ? ask_ms : next;
}

static void decide_step(struct run *run)
{
    int64_t now_ms = run->t_ms;
    for (int turn = 0; turn < STEP_TURNS_MAX; turn++, now_ms += MS_PER_S) {
        take_answers(run, now_ms);
        loads_draw(run);
        bool news = look_at_meters(run) || run->sluice->answered > 0;
        if (news || now_ms >= run->sluice->holds_ms)
            ask(run, now_ms);
        if (next_ms(run) > now_ms + 2 * MS_PER_S)
            return;
    }
}

void sluice_decide(struct run *run)
{
    struct sluice *sluice = run->sluice;
    if (run->plan->in_steps) {
        decide_step(run);
        return;
    }
    take_answers(run, run->t_ms);
    loads_draw(run);
    bool news = look_at_meters(run) || sluice->answered > 0;
    if (news || run->t_ms >= next_ms(run))
        ask(run, run->t_ms);
    run->decide_at_ms = next_ms(run);
}
