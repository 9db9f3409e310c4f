/* findings.c - a turn of the findings, and their list.
 *
 * The order matters in one place: what an experiment says of the load's power is weighed before
 * it is learnt from. What stands is listed only as far as it can be told apart (FINDINGS.md). */
#include "observe/findings.h"

#include "observe/find_inside.h"
#include "observe/stat_wald.h"

enum { FADE_MS = MS_PER_DAY, STILL_MS = 15 * MS_PER_MIN };

void findings_begin(const struct findings_settings *settings, struct findings_memory *memory,
                    struct findings_load_memory loads[], struct moment now)
{
    *memory = (struct findings_memory){.last = now,
                                       .faded = now.mono,
                                       .changed = now,
                                       .lit_at = now.mono,
                                       .slot = -1,
                                       .loads = loads};
    steps_begin(&memory->steps);
    for (uint16_t i = 0; i < settings->load_count; i++)
        loads[i] = (struct findings_load_memory){.opened = {.mono = MONO_NEVER},
                                                 .drew = MONO_NEVER,
                                                 .full_w = settings->loads[i].power_w,
                                                 .open_part = SURVIVAL_WHOLE,
                                                 .last_since_ms = -1,
                                                 .quiet_w = -1,
                                                 .usual_quiet_w = -1,
                                                 .week_began = now};
}

void findings_load_change(const struct findings_load_settings *before,
                          const struct findings_load_settings *after,
                          struct findings_load_memory *load)
{
    if (before->power_w == after->power_w && before->phases == after->phases)
        return;
    /* another element, or elsewhere: what was said of this one is over */
    for (int k = 0; k < OF_LOAD_COUNT; k++)
        suspect_end(&load->suspicion[k]);
    load->full_w = after->power_w;
    load->full_count = load->first_count = load->recent_count = 0;
    load->first_mohm = load->recent_mohm = load->spread_mohm = 0;
    load->lost_phase = 0;
}

/* ---- a turn ------------------------------------------------------------------------------ */

static struct look_at look_at(const struct findings_settings *settings,
                              struct findings_memory *memory, const struct findings_input *input,
                              uint16_t index)
{
    return (struct look_at){.settings = settings,
                            .load = &settings->loads[index],
                            .site = memory,
                            .memory = &memory->loads[index],
                            .told = &input->loads[index],
                            .now = input->now};
}

static void take_experiment(const struct look_at *at, const struct experiment *experiment)
{
    struct weighed weighed = {.ratio = RATIO_ONE};
    if (experiment->seen == EXPERIMENT_CLEAR)
        weigh(at, experiment, &weighed);
    power_weighed(at, experiment, &weighed);
    contact_weighed(at, experiment, &weighed);
    phase_weighed(at, experiment, &weighed);
    element_weighed(at, experiment, &weighed);
    heat_weighed(at, experiment, &weighed);
}

void findings_turn(const struct findings_settings *settings, struct findings_memory *memory,
                   const struct findings_input *input)
{
    int64_t dt_ms = memory->begun ? input->now.mono.ms - memory->last.mono.ms : 0;
    memory->begun = true;
    for (uint16_t k = 0; k < input->experiment_count; k++) {
        uint16_t index = input->experiments[k].load;
        if (index >= settings->load_count)
            continue;
        struct look_at at = look_at(settings, memory, input, index);
        take_experiment(&at, &input->experiments[k]);
    }
    site_turn(settings, memory, input, dt_ms);
    for (uint16_t i = 0; i < settings->load_count; i++) {
        struct look_at at = look_at(settings, memory, input, i);
        power_turn(&at);
        heat_turn(&at, dt_ms);
    }
    if (input->background && input->background->known)
        steps_note(&memory->steps, input->background->step_w, input->background->spacing_ms);
    if (input->now.mono.ms - memory->faded.ms >= FADE_MS) {
        steps_fade(&memory->steps);
        memory->longest_ms -= memory->longest_ms / 28;
        memory->faded = input->now.mono;
    }
    memory->last = input->now;
}

/* ---- the list ------------------------------------------------------------------------------ */

struct list {
    struct finding *at;
    uint16_t count, most;
};

/* A threshold that is passed is no odds. */
static bool is_by_rule(enum finding_kind kind)
{
    return kind == FINDING_NOT_SATISFIED || kind == FINDING_GUARANTEE_AT_RISK ||
           kind == FINDING_CONTACTOR_WORN || kind == FINDING_METER_STUCK ||
           kind == FINDING_SOLAR_GONE;
}

static struct finding of(enum finding_kind kind, uint16_t index, const struct suspicion *suspicion)
{
    struct finding finding = {.kind = (uint8_t)kind,
                              .index = index,
                              .sure_permille =
                                  is_by_rule(kind) ? 0 : wald_sure_permille(suspicion->sum_mn),
                              .seen = suspicion->seen,
                              .since = suspicion->since};
    for (int k = 0; k < FINDING_NUMBERS; k++)
        finding.number[k] = suspicion->number[k];
    return finding;
}

static void list_add(struct list *list, struct finding finding)
{
    if (list->count < list->most)
        list->at[list->count++] = finding;
}

/* Of a star of rods, each on its phase. */
static int64_t rod_mohm(const struct findings_settings *settings, uint16_t index, int64_t power_w)
{
    int64_t mv = settings->voltage_mv;
    int64_t phases = phases_count(settings->loads[index].phases);
    return power_w > 0 ? mv * mv / power_w / 1000 * phases : -1;
}

/* Steps that come out elsewhere, or not at all, say nothing about what the load draws. */
static bool meter_is_doubted(const struct findings_memory *memory, uint16_t index)
{
    const struct findings_load_memory *load = &memory->loads[index];
    bool doubted =
        memory->suspicion[OF_METER_STUCK].stands || memory->suspicion[OF_GRID_REVERSED].stands;
    for (int phase = 0; phase < PHASES; phase++)
        doubted |= load->suspicion[OF_OTHER_PHASE + phase].stands ||
                   memory->suspicion[OF_PHASE_REVERSED + phase].stands;
    return doubted;
}

/* A meter that stands still shows nothing. */
static bool power_is_shown(const struct findings_memory *memory, uint16_t index)
{
    return memory->changed.mono.ms > memory->loads[index].last_try.mono.ms - STILL_MS;
}

/* Behind a contact that stays open, or that stays closed, a start makes no step either. */
static bool power_is_explained(const struct findings_load_settings *settings,
                               const struct findings_load_memory *load)
{
    bool drew = load->drew.ms != MONO_NEVER.ms;
    int64_t since_ms = drew ? load->last_try.mono.ms - load->drew.ms : 0;
    int64_t least_w = load->openings >= LEAST_DAYS_OF_HEAT ? load->needs_w / 2 : settings->loss_w;
    bool fed = least_w > 0 && since_ms > 0 && load->foreign_mj >= least_w * since_ms;
    const struct suspicion *stuck = &load->suspicion[OF_STUCK];
    bool elsewhere = load->suspicion[OF_FOREIGN].stands;
    bool runs = load->foreign_runs > 0 && (elsewhere || stuck->sum_mn > 0 || fed);
    return load->suspicion[OF_NOT_CLOSING].stands || runs ||
           stuck->sum_mn >= load->suspicion[OF_NO_POWER].sum_mn;
}

/* What has been found out since says it better. */
static struct finding tested_finding(const struct findings_load_memory *load, uint16_t index)
{
    struct finding finding = of(FINDING_TEST_WITHOUT_DRAW, index, &load->suspicion[OF_TESTED]);
    bool known = load->suspicion[OF_NO_POWER].stands || load->suspicion[OF_NOT_CLOSING].stands;
    finding.standing = known ? FINDING_EXPLAINED : FINDING_STANDS;
    finding.number[0] = finding.seen;
    finding.number[1] = load->full_w;
    return finding;
}

static void list_power(const struct findings_settings *settings,
                       const struct findings_memory *memory, uint16_t index, struct list *list)
{
    const struct findings_load_memory *load = &memory->loads[index];
    const struct suspicion *power = &load->suspicion[OF_NO_POWER];
    if (load->suspicion[OF_NOT_CLOSING].stands) {
        struct finding finding = of(FINDING_NOT_CLOSING, index, &load->suspicion[OF_NOT_CLOSING]);
        finding.number[0] = finding.seen;
        list_add(list, finding);
    }
    if (load->suspicion[OF_TESTED].stands)
        list_add(list, tested_finding(load, index));
    if (!power->stands)
        return;
    struct finding finding =
        of(load->past_contact ? FINDING_ELEMENT_OPEN : FINDING_NO_POWER, index, power);
    finding.standing = power_is_explained(&settings->loads[index], load) ? FINDING_EXPLAINED
                       : power_is_shown(memory, index)                   ? FINDING_STANDS
                                                                         : FINDING_UNJUDGED;
    finding.number[0] = finding.seen;
    finding.number[1] = load->full_w;
    finding.number[2] = rod_mohm(settings, index, load->full_w);
    finding.number[3] = load->last_since_ms;
    list_add(list, finding);
}

static void list_part(const struct findings_memory *memory, uint16_t index, struct list *list)
{
    const struct findings_load_memory *load = &memory->loads[index];
    const struct suspicion *best = NULL;
    for (int k = 0; k < FINDINGS_PARTS; k++) {
        const struct suspicion *part = &load->suspicion[OF_PART + k];
        if (part->stands && (!best || part->sum_mn > best->sum_mn))
            best = part;
    }
    if (!best)
        return;
    struct finding finding = of(FINDING_ELEMENT_PART, index, best);
    finding.phase = load->lost_phase;
    finding.number[3] = finding.seen;
    list_add(list, finding);
}

static void list_contact(const struct findings_memory *memory, uint16_t index, struct list *list)
{
    const struct suspicion *of_load = memory->loads[index].suspicion;
    if (of_load[OF_STUCK].stands) {
        struct finding finding = of(FINDING_CONTACT_STUCK, index, &of_load[OF_STUCK]);
        if (finding.number[1] == 0)
            finding.number[1] = -1; /* by runs alone: it was never seen at a stop */
        list_add(list, finding);
    }
    if (of_load[OF_FOREIGN].stands) {
        struct finding finding = of(FINDING_FOREIGN_SWITCHING, index, &of_load[OF_FOREIGN]);
        finding.number[0] = finding.seen;
        finding.standing = of_load[OF_STUCK].stands ? FINDING_EXPLAINED : FINDING_STANDS;
        list_add(list, finding);
    }
}

static void list_counted(const struct findings_memory *memory, uint16_t index,
                         enum findings_of_load which, enum finding_kind kind, struct list *list)
{
    const struct suspicion *suspicion = &memory->loads[index].suspicion[which];
    if (!suspicion->stands)
        return;
    struct finding finding = of(kind, index, suspicion);
    finding.number[0] = finding.seen;
    list_add(list, finding);
}

static void list_as_is(const struct findings_memory *memory, uint16_t index,
                       enum findings_of_load which, enum finding_kind kind, struct list *list)
{
    const struct suspicion *suspicion = &memory->loads[index].suspicion[which];
    if (!suspicion->stands)
        return;
    struct finding finding = of(kind, index, suspicion);
    finding.measure = memory->loads[index].at_risk_measure;
    list_add(list, finding);
}

static void doubt(struct list *list, uint16_t from)
{
    for (uint16_t k = from; k < list->count; k++)
        if (list->at[k].standing == FINDING_STANDS)
            list->at[k].standing = FINDING_UNJUDGED;
}

/* What the meter's steps show. */
static void list_by_steps(const struct findings_settings *settings,
                          const struct findings_memory *memory, uint16_t index, struct list *list)
{
    uint16_t from = list->count;
    list_power(settings, memory, index, list);
    list_part(memory, index, list);
    list_contact(memory, index, list);
    list_as_is(memory, index, OF_DRIFT, FINDING_ELEMENT_DRIFT, list);
    uint16_t thermostat = list->count;
    list_as_is(memory, index, OF_THERMOSTAT, FINDING_THERMOSTAT_CLOSED, list);
    if (is_partly_gone(&memory->loads[index])) /* it draws less than what was counted */
        doubt(list, thermostat);
    if (meter_is_doubted(memory, index))
        doubt(list, from);
}

/* Known by the thermostat's openings, which are steps; where nothing is drawn there are none. */
static void list_by_openings(const struct findings_memory *memory, uint16_t index,
                             struct list *list)
{
    const struct findings_load_memory *load = &memory->loads[index];
    uint16_t from = list->count;
    list_as_is(memory, index, OF_NOT_SATISFIED, FINDING_NOT_SATISFIED, list);
    if (load->suspicion[OF_NO_POWER].stands || load->suspicion[OF_NOT_CLOSING].stands ||
        load->suspicion[OF_STUCK].stands)
        for (uint16_t k = from; k < list->count; k++)
            list->at[k].standing = FINDING_EXPLAINED;
    list_as_is(memory, index, OF_LOSES_HEAT, FINDING_LOSES_HEAT, list);
    if (meter_is_doubted(memory, index))
        doubt(list, from);
}

static void list_load(const struct findings_settings *settings,
                      const struct findings_memory *memory, uint16_t index, struct list *list)
{
    const struct findings_load_memory *load = &memory->loads[index];
    list_by_steps(settings, memory, index, list);
    list_by_openings(memory, index, list);
    list_as_is(memory, index, OF_AT_RISK, FINDING_GUARANTEE_AT_RISK, list);
    list_as_is(memory, index, OF_WORN, FINDING_CONTACTOR_WORN, list);
    list_counted(memory, index, OF_CONTRADICTS, FINDING_OUTPUT_CONTRADICTS, list);
    list_counted(memory, index, OF_RESTARTED, FINDING_BOARD_RESTARTED, list);
    for (int phase = 0; phase < PHASES; phase++) {
        const struct suspicion *other = &load->suspicion[OF_OTHER_PHASE + phase];
        if (!other->stands)
            continue;
        struct finding finding = of(FINDING_PHASES_SWAPPED, index, other);
        finding.number[0] = finding.seen;
        finding.phase = (uint8_t)finding.number[1];
        list_add(list, finding);
    }
}

/* All phases the wrong way round, and more than one: it is the meter's sign. */
static bool grid_is_reversed(const struct findings_settings *settings,
                             const struct findings_memory *memory)
{
    int reversed = 0;
    uint8_t looked = 0;
    for (int phase = 0; phase < settings->phase_count; phase++)
        reversed += memory->suspicion[OF_PHASE_REVERSED + phase].stands;
    for (uint16_t i = 0; i < settings->load_count; i++)
        looked |= settings->loads[i].phases;
    return reversed > 1 && reversed == phases_count(looked);
}

static void list_site(const struct findings_settings *settings,
                      const struct findings_memory *memory, struct list *list)
{
    const struct suspicion *of_site = memory->suspicion;
    bool all = grid_is_reversed(settings, memory);
    if (of_site[OF_GRID_REVERSED].stands || all) {
        const struct suspicion *grid = &of_site[all ? OF_PHASE_REVERSED : OF_GRID_REVERSED];
        struct finding finding = of(FINDING_GRID_REVERSED, 0, grid);
        finding.number[0] = finding.seen;
        list_add(list, finding);
    }
    for (int phase = 0; phase < PHASES; phase++) {
        const struct suspicion *reversed = &of_site[OF_PHASE_REVERSED + phase];
        if (!reversed->stands)
            continue;
        struct finding finding = of(FINDING_PHASE_REVERSED, 0, reversed);
        finding.phase = (uint8_t)(phase + 1);
        finding.number[0] = finding.seen;
        finding.standing = all ? FINDING_EXPLAINED : FINDING_STANDS;
        list_add(list, finding);
    }
    if (of_site[OF_METER_STUCK].stands)
        list_add(list, of(FINDING_METER_STUCK, 0, &of_site[OF_METER_STUCK]));
    if (of_site[OF_SOLAR_GONE].stands)
        list_add(list, of(FINDING_SOLAR_GONE, 0, &of_site[OF_SOLAR_GONE]));
}

uint16_t findings_list(const struct findings_settings *settings,
                       const struct findings_memory *memory, struct finding findings[],
                       uint16_t most)
{
    struct list list = {.at = findings, .most = most};
    for (uint16_t i = 0; i < settings->load_count; i++)
        list_load(settings, memory, i, &list);
    list_site(settings, memory, &list);
    return list.count;
}
