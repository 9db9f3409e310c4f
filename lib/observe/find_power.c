/* find_power.c - switched on, and nothing drawn.
 *
 * A start without a step has an innocent cause: the thermostat is open, as the tank is hot. All
 * starts since something was last known of the thermostat have that one cause in common, so they
 * are one observation, and what it weighs is how seldom an opening lasts so long (stat_survival.h).
 * If it closed before a start, that start would have shown it, but for what the house did in the
 * same moment: with s the share of openings that last until each start, and r the likelihood of
 * each step if it had drawn against that if not,
 *     healthy = s_n + sum over k of (s_(k-1) - s_k) r_k ... r_n,
 * which is kept as two numbers. A start of a load that was drawing when it was last switched off
 * has no such cause: it cannot be full. */
#include "observe/find_inside.h"

#include "observe/stat_log.h"

enum {
    CLOSED_IN = 1000, /* one in so many is open though it was drawing when switched off */
    COLD_IN = 1000,   /* or though its sensor is cold */
    COLD_MC = 8000,   /* below where it must have closed */
    LEAST_OPEN_MS = 10 * MS_PER_MIN, /* a shorter one was another appliance's step */
    WAITS_MS = 30 * MS_PER_MIN,
    UNNOTICED = 50, /* of a thousand closings, those that no look shows. A judgement */
    FULL_MS =
        12 * MS_PER_HOUR, /* so long an opening explains that nothing is drawn (TABLE.md, 2) */
    CLEARLY_MN = 3500,    /* a contact that is read is hardly ever wrong */
};

static bool is_cold(const struct look_at *at)
{
    const struct findings_load_settings *load = at->load;
    return at->told->tank_known && load->set_mc > 0 &&
           at->told->tank_mc < load->set_mc - load->band_mc - COLD_MC;
}

/* How likely a healthy one is open still. */
static int64_t still_open(const struct look_at *at)
{
    static const struct stat_survival nothing_learnt;
    const struct findings_load_memory *memory = at->memory;
    int64_t after_ms = at->now.mono.ms - memory->opened.mono.ms;
    if (!at->load->thermostat)
        return SURVIVAL_WHOLE / CLOSED_IN;
    if (memory->closed || is_cold(at))
        return survival_at(&nothing_learnt, standing_ms(at->load), after_ms) /
                   (is_cold(at) ? COLD_IN : CLOSED_IN) +
               1;
    return survival_at(&memory->survival, standing_ms(at->load), after_ms);
}

static void begin_spell(struct findings_load_memory *memory, struct moment from, bool closed)
{
    memory->opened = from;
    memory->closed = closed;
    memory->flat = memory->doubted = memory->unclear = false;
    memory->tried_bits = 0;
    memory->open_part = SURVIVAL_WHOLE;
    memory->closed_part = 0;
}

static void drew(const struct look_at *at, const struct experiment *experiment)
{
    struct findings_load_memory *memory = at->memory;
    int64_t after_ms = experiment->at.mono.ms - memory->opened.mono.ms;
    if (experiment->kind == EXPERIMENT_START && at->load->thermostat && !memory->closed &&
        memory->opened.mono.ms != MONO_NEVER.ms && after_ms >= LEAST_OPEN_MS)
        survival_note(&memory->survival, memory->tried_bits, after_ms);
    suspect_end(&memory->suspicion[OF_NO_POWER]);
    suspect_end(&memory->suspicion[OF_NOT_CLOSING]);
    suspect_end(&memory->suspicion[OF_TESTED]);
    memory->foreign_runs = memory->idle_starts = 0;
    memory->foreign_mj = 0;
    memory->drew = experiment->at.mono;
    begin_spell(memory, (struct moment){.mono = MONO_NEVER}, false);
}

/* It was found to draw nothing now; `ratio`: how likely what was seen is if it had drawn. */
static void found_idle(const struct look_at *at, struct moment now, int64_t ratio, bool counts)
{
    struct findings_load_memory *memory = at->memory;
    struct suspicion *suspicion = &memory->suspicion[OF_NO_POWER];
    int64_t open = still_open(at);
    int64_t closed = memory->open_part > open ? memory->open_part - open : 0;
    memory->closed_part = (memory->closed_part + closed) * ratio / RATIO_ONE;
    if (memory->closed_part > (int64_t)SURVIVAL_WHOLE * RATIO_ONE)
        memory->closed_part = (int64_t)SURVIVAL_WHOLE * RATIO_ONE;
    memory->open_part = open;
    memory->last_try = now;
    memory->tried_bits |= survival_spell_bit(now.mono.ms - memory->opened.mono.ms);
    int64_t healthy = memory->closed_part + memory->open_part;
    uint16_t seen = suspicion->seen;
    if (suspicion->sum_mn <= 0)
        memory->past_contact = at->told->contact_known;
    suspect_set(suspicion, stat_ln_ratio_mn(SURVIVAL_WHOLE, (uint64_t)healthy), now);
    if (!counts && suspicion->seen > seen)
        suspicion->seen = seen; /* the same start goes on */
}

static void try_again(const struct look_at *at, const struct experiment *experiment,
                      const struct weighed *weighed)
{
    struct findings_load_memory *memory = at->memory;
    if (memory->opened.mono.ms == MONO_NEVER.ms)
        begin_spell(memory, experiment->at, false); /* it can have opened at any time before */
    memory->flat = weighed->ratio < RATIO_ONE;
    memory->unclear = weighed->ratio > RATIO_ONE * RATIO_ONE / RATIO_CLEAR;
    memory->doubted = false;
    if (memory->idle_starts < UINT16_MAX)
        memory->idle_starts++;
    found_idle(at, experiment->at, weighed->ratio, true);
}

/* Somebody asked what it does, and must find the answer where faults are looked for: that its
 * water may be hot is no reason to be silent then. Without a thermostat a start that shows
 * nothing has no such cause, and is found as any other. */
static void tested(const struct look_at *at, const struct experiment *experiment,
                   const struct weighed *weighed)
{
    bool hot = experiment->since_opened_ms >= 0 && experiment->since_opened_ms <= EXPERIMENT_HOT_MS;
    if (at->told->tested && at->load->thermostat && !hot)
        suspect_add(&at->memory->suspicion[OF_TESTED],
                    stat_ln_ratio_mn(RATIO_ONE, (uint64_t)weighed->ratio), experiment->at);
}

static void started(const struct look_at *at, const struct experiment *experiment,
                    const struct weighed *weighed)
{
    struct suspicion *not_closing = &at->memory->suspicion[OF_NOT_CLOSING];
    if (weighed->ratio >= RATIO_CLEAR) {
        drew(at, experiment);
        return;
    }
    if (experiment->drew || at->memory->foreign.runs || at->told->supply_off_known) {
        at->memory->flat = at->memory->doubted = true;
        return; /* it may draw already; or it is known why it does not */
    }
    if (at->told->contact_known)
        suspect_add(not_closing, at->told->contact_closed ? -CLEARLY_MN : CLEARLY_MN,
                    experiment->at);
    if (!at->told->contact_known || at->told->contact_closed) {
        tested(at, experiment, weighed);
        try_again(at, experiment, weighed);
    }
}

/* After next to nothing a tank that serves a household is not full. */
static bool is_early(const struct look_at *at, const struct experiment *experiment)
{
    const struct findings_load_memory *memory = at->memory;
    int64_t least_w = memory->openings >= LEAST_DAYS_OF_HEAT ? memory->needs_w / 8 : 0;
    if (at->load->loss_w / 4 > least_w)
        least_w = at->load->loss_w / 4;
    int64_t since_ms = experiment->since_opened_ms;
    if (since_ms > 2 * (int64_t)MS_PER_DAY)
        since_ms = 2 * (int64_t)MS_PER_DAY;
    return since_ms > 0 && experiment->heated_mj < least_w * since_ms;
}

static void stopped(const struct look_at *at, const struct experiment *experiment,
                    const struct weighed *weighed)
{
    struct findings_load_memory *memory = at->memory;
    bool clear = experiment->seen == EXPERIMENT_CLEAR;
    memory->was_flat = memory->flat;
    if (clear && memory->flat && !memory->doubted && !experiment->drew)
        tested(at, experiment, weighed);
    if (clear && weighed->ratio >= RATIO_CLEAR) {
        drew(at, experiment);
        /* after a start that showed nothing the fall may be a kettle's: then it may be full */
        begin_spell(memory, experiment->at, !memory->was_flat);
    } else if ((experiment->drew && !memory->flat) || (memory->closed && memory->unclear)) {
        begin_spell(memory, experiment->at, false);
    }
    memory->flat = memory->doubted = false;
}

/* Of thousands of looks some show a step of its size: what is picked out for that is no
 * evidence that it was its own. A start, and a stop, are looked at whatever they show. */
static void unasked(const struct look_at *at, const struct experiment *experiment,
                    const struct weighed *weighed)
{
    struct findings_load_memory *memory = at->memory;
    /* without a fall the start before it was another appliance's */
    bool opens = at->load->thermostat && weighed->ratio >= RATIO_CLEAR &&
                 !memory->suspicion[OF_NO_POWER].stands;
    if (experiment->kind == EXPERIMENT_CLOSED)
        memory->doubted = true;
    else if (experiment->kind == EXPERIMENT_OPENED && opens)
        begin_spell(memory, experiment->at, !memory->flat && is_early(at, experiment));
}

void power_weighed(const struct look_at *at, const struct experiment *experiment,
                   const struct weighed *weighed)
{
    if (experiment->kind == EXPERIMENT_START && experiment->seen == EXPERIMENT_CLEAR)
        started(at, experiment, weighed);
    else if (experiment->kind == EXPERIMENT_STOP)
        stopped(at, experiment, weighed);
    else if (experiment->kind == EXPERIMENT_START)
        at->memory->unclear = true;
    else
        unasked(at, experiment, weighed);
}

/* While it stays on, its thermostat's closing would show as well as at a start, or nearly. */
void power_turn(const struct look_at *at)
{
    struct findings_load_memory *memory = at->memory;
    bool waits = memory->flat && !memory->doubted && at->told->on && at->told->idle &&
                 !at->told->supply_off_known;
    if (at->told->supply_off_known) {
        suspect_end(&memory->suspicion[OF_NO_POWER]);
        suspect_end(&memory->suspicion[OF_TESTED]);
    }
    if (waits && at->now.mono.ms - memory->last_try.mono.ms >= WAITS_MS)
        found_idle(at, at->now, UNNOTICED, false);
}

/* A run that nobody ordered has heated its tank, if it was its own. */
void power_foreign_run(const struct look_at *at)
{
    if (!at->memory->suspicion[OF_NO_POWER].stands)
        begin_spell(at->memory, at->now, false);
}
