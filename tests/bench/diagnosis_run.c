/* A second is: the house lives it with the contactors as they are, its meters are read where a
 * poll is due, and the engine takes a turn on what is new, as the daemon does; what it decides
 * holds from the next second on, and is confirmed then. Nothing that the house alone knows goes
 * into engine or findings. */
#include "diagnosis_run.h"

#include <inttypes.h>
#include <stdlib.h>

#include "values/finding_input.h"

enum { BOOTED_MS = 100000, LIST_S = 60, LIST_MAX = 48, DAY_S = 86400, AGAIN_S = DAY_S };

/* What is true of a load. */
struct truth {
    bool called;                      /* its thermostat, a second ago */
    bool opened;                      /* since it was last told as satisfied */
    int64_t opened_s;                 /* when it last did; the beginning counts as one */
    int64_t drew_s[RULES_FLOORS_MAX]; /* how long since the floor's period began */
    int64_t period_ms[RULES_FLOORS_MAX];
    bool at_risk; /* told so in a period that is not over */
};

struct live {
    const struct diagnosis_case *given;
    struct diagnosis_run *run;
    FILE *trace;
    int64_t trace_from_s;
    int64_t s; /* after the beginning */

    struct world world;
    double solar_before_w;
    int32_t day;
    bool heated_today, failed;
    int64_t onset_day_s;
    struct truth truth[CASE_LOADS_MAX];

    struct rules_memory memory;
    struct load_memory loads[CASE_LOADS_MAX];
    struct reading reading;
    struct load_reading own[CASE_LOADS_MAX];
    struct decision decision[CASE_LOADS_MAX];
    struct confirmation confirmed[CASE_LOADS_MAX];
    struct rules_outcome outcome;

    struct findings_settings settings;
    struct findings_load_settings load_settings[CASE_LOADS_MAX];
    struct findings_memory findings;
    struct findings_load_memory findings_loads[CASE_LOADS_MAX];
    struct findings_load told[CASE_LOADS_MAX];
    struct finding stands[LIST_MAX];
    uint16_t stand_count;
};

static struct moment now_of(const struct live *live)
{
    return (struct moment){
        {BOOTED_MS + live->s * MS_PER_S}, {live->given->world.start.ms + live->s * MS_PER_S}, true};
}

static bool traces(const struct live *live)
{
    return live->trace && live->s >= live->trace_from_s;
}

static void stamp(const struct live *live)
{
    int32_t second = live->world.local.second;
    fprintf(live->trace, "%.3f  %02d:%02d:%02d  ", (double)live->s / DAY_S, second / 3600,
            second / 60 % 60, second % 60);
}

/* ---- the truth ---------------------------------------------------------------------------- */

static bool is_heater(const struct live *live, uint16_t i)
{
    return live->given->world.load[i].kind == HOUSE_HEATER;
}

static void watch_truth(struct live *live)
{
    for (uint16_t i = 0; i < live->given->rules.load_count; i++) {
        const struct house_load *load = &live->world.load[i];
        struct truth *truth = &live->truth[i];
        live->heated_today |= i == live->given->fault_load && load->relay;
        live->run->switchings += load->switched_on || load->switched_off;
        bool calls = load->heater.calls;
        /* a cut-out that trips is no opening */
        if (is_heater(live, i) && truth->called && !calls && !load->heater.cut_out) {
            truth->opened = true;
            truth->opened_s = live->s;
            live->run->openings++;
        }
        truth->called = calls;
        for (uint8_t k = 0; k < live->given->loads[i].floor_count; k++)
            truth->drew_s[k] += load->draw_w >= DRAWING_W;
    }
}

/* A period is the floor's own; it is read, not judged, from the engine. */
static void watch_periods(struct live *live)
{
    for (uint16_t i = 0; i < live->given->rules.load_count; i++)
        for (uint8_t k = 0; k < live->given->loads[i].floor_count; k++) {
            int64_t start_ms = live->loads[i].floor[k].start_ms;
            if (live->truth[i].period_ms[k] == start_ms)
                continue;
            live->truth[i].period_ms[k] = start_ms;
            live->truth[i].drew_s[k] = 0;
        }
}

/* None went in, and it is not because the water was hot. */
static bool got_no_heat(const struct live *live, uint16_t i, uint8_t k)
{
    const struct house_load *load = &live->world.load[i];
    bool hot = is_heater(live, i) &&
               (!load->heater.calls || live->s - live->truth[i].opened_s < DAY_S / 2) &&
               live->truth[i].opened_s > 0;
    return live->truth[i].drew_s[k] < 60 && !hot;
}

static void judge_event(struct live *live, const struct rules_event *event)
{
    struct truth *truth = &live->truth[event->load < CASE_LOADS_MAX ? event->load : 0];
    if (event->kind == EVENT_FLOOR_MET) {
        live->run->met++;
        bool none = got_no_heat(live, event->load, event->floor);
        live->run->met_without_heat += none;
        if (none && live->trace)
            stamp(live), fprintf(live->trace, "MET WITHOUT HEAT: load %u\n", event->load);
        truth->at_risk = false;
    } else if (event->kind == EVENT_FLOOR_MISSED) {
        live->run->missed++;
        live->run->at_risk_missed += truth->at_risk;
        truth->at_risk = false;
    } else if (event->kind == EVENT_SATISFIED && event->number == 0) {
        bool wrong = !truth->opened && truth->called;
        live->run->satisfied++;
        live->run->satisfied_wrong += wrong;
        truth->opened = false;
        if (wrong && live->trace)
            stamp(live), fprintf(live->trace, "SATISFIED WRONGLY: load %u\n", event->load);
    }
}

/* ---- what is told ------------------------------------------------------------------------------
 */

static bool is_no_draw(const struct live *live)
{
    return live->given->fault >= CASE_BREAKER_OFF && live->given->fault <= CASE_CUT_OUT;
}

/* Behind the contactor there is no voltage: that much is seen where it is sensed. */
static bool is_before_sensor(enum case_fault fault)
{
    return fault <= CASE_COIL_OPEN;
}

static bool names_power(const struct live *live, const struct finding *finding)
{
    bool sensed = live->given->senses_voltage && live->given->fault_load == 0;
    if (!sensed)
        return finding->kind == FINDING_NO_POWER;
    return finding->kind ==
           (is_before_sensor(live->given->fault) ? FINDING_NOT_CLOSING : FINDING_ELEMENT_OPEN);
}

static bool is_part(enum case_fault fault)
{
    return fault >= CASE_PART_THIRD && fault <= CASE_PART_TWO_THIRDS;
}

static bool has_phase(const struct live *live, const struct finding *finding)
{
    return finding->phase > 0 && live->given->fault_phases >> (finding->phase - 1) & 1;
}

/* Names what failed, or one of those that show the same. */
static bool names(const struct live *live, const struct finding *finding)
{
    enum case_fault fault = live->given->fault;
    bool of_load = finding->index == live->given->fault_load;
    if (is_no_draw(live))
        return of_load && names_power(live, finding);
    if (is_part(fault))
        return of_load && finding->kind == FINDING_ELEMENT_PART;
    switch (fault) {
    case CASE_WELDED: /* with its thermostat open at the stop, all that shows is its cycling */
    case CASE_BYPASSED:
        return of_load && (finding->kind == FINDING_CONTACT_STUCK ||
                           finding->kind == FINDING_FOREIGN_SWITCHING);
    case CASE_THERMOSTAT_CLOSED:
        return of_load && finding->kind == FINDING_THERMOSTAT_CLOSED;
    case CASE_CT_REVERSED:
        if (live->given->world.grid.phase_count == 1)
            return finding->kind == FINDING_GRID_REVERSED;
        return finding->kind == FINDING_PHASE_REVERSED && has_phase(live, finding);
    case CASE_CTS_EXCHANGED:
    case CASE_CTS_CROSSED:
        return finding->kind == FINDING_PHASES_SWAPPED;
    case CASE_METER_REVERSED:
        return finding->kind == FINDING_GRID_REVERSED;
    case CASE_METER_STUCK:
        return finding->kind == FINDING_METER_STUCK;
    case CASE_LEAK:
        return of_load && finding->kind == FINDING_LOSES_HEAT;
    case CASE_DRIFT:
        return of_load && finding->kind == FINDING_ELEMENT_DRIFT;
    default:
        return false;
    }
}

static bool of_draw(uint8_t kind)
{
    return kind == FINDING_NO_POWER || kind == FINDING_ELEMENT_OPEN || kind == FINDING_NOT_CLOSING;
}

/* True of the house, whatever else is wrong with it: its thermostat has not opened for a week, its
 * cut-out is open. */
static bool is_so(const struct live *live, const struct finding *finding)
{
    const struct house_load *load =
        &live->world.load[finding->index < CASE_LOADS_MAX ? finding->index : 0];
    if (finding->kind == FINDING_NOT_SATISFIED)
        return live->s - live->truth[finding->index].opened_s >= 7 * DAY_S - 3600;
    if (of_draw(finding->kind) && is_heater(live, finding->index))
        return load->heater.cut_out;
    return false;
}

static bool stood(const struct live *live, const struct finding *finding)
{
    for (uint16_t k = 0; k < live->run->told_count; k++) {
        const struct run_told *told = &live->run->told[k];
        if (told->finding.kind == finding->kind && told->finding.index == finding->index &&
            told->finding.phase == finding->phase && live->s - told->at_s < AGAIN_S)
            return true;
    }
    return false;
}

static bool contains(const struct finding list[], uint16_t count, const struct finding *finding)
{
    for (uint16_t k = 0; k < count; k++)
        if (list[k].kind == finding->kind && list[k].index == finding->index &&
            list[k].phase == finding->phase)
            return true;
    return false;
}

static void trace_finding(const struct live *live, const struct finding *finding, const char *what)
{
    char line[400];
    struct text text = text_in(line, sizeof(line));
    finding_write(finding, &text);
    stamp(live);
    fprintf(live->trace, "%s %s of %u, phase %u (%u permille, seen %u): %s\n", what,
            finding_id(finding->kind), finding->index, finding->phase, finding->sure_permille,
            finding->seen, line);
}

/* A warning, no fault: what became of the guarantee tells whether it was right. */
static void warns(struct live *live, const struct finding *finding)
{
    struct truth *truth = &live->truth[finding->index];
    live->run->at_risk += !truth->at_risk;
    truth->at_risk = true;
}

static void begins_to_stand(struct live *live, const struct finding *finding)
{
    if (finding->kind == FINDING_GUARANTEE_AT_RISK) {
        warns(live, finding);
        return;
    }
    struct run_told told = {.finding = *finding, .at_s = live->s};
    told.right = live->failed && names(live, finding);
    told.follows = is_so(live, finding);
    told.heated_days = live->run->heated_days + live->heated_today;
    if (live->trace)
        trace_finding(live, finding, told.right ? "RIGHT" : told.follows ? "TRUE" : "WRONG");
    if (!stood(live, finding) && live->run->told_count < RUN_TOLD_MAX)
        live->run->told[live->run->told_count++] = told;
}

static void look_at_findings(struct live *live)
{
    struct finding now[LIST_MAX];
    uint16_t all = findings_list(&live->settings, &live->findings, now, LIST_MAX), count = 0;
    for (uint16_t k = 0; k < all; k++)
        if (now[k].standing == FINDING_STANDS)
            now[count++] = now[k];
    for (uint16_t k = 0; k < count; k++)
        if (!contains(live->stands, live->stand_count, &now[k]))
            begins_to_stand(live, &now[k]);
    for (uint16_t k = 0; k < live->stand_count; k++)
        if (live->trace && live->stands[k].kind != FINDING_GUARANTEE_AT_RISK &&
            !contains(now, count, &live->stands[k]))
            trace_finding(live, &live->stands[k], "over:");
    for (uint16_t k = 0; k < count; k++)
        live->stands[k] = now[k];
    live->stand_count = count;
}

/* ---- a turn ---------------------------------------------------------------------------------- */

static int32_t whole(double value)
{
    return (int32_t)(value < 0 ? value - 0.5 : value + 0.5);
}

static void read_grid(struct live *live)
{
    const struct measured *shown = &live->world.meter.shown;
    struct reading *reading = &live->reading;
    reading->grid.sequence++;
    reading->grid.taken = now_of(live).mono;
    reading->grid_power_w = whole(shown->total_w);
    for (int p = 0; p < shown->phases; p++) {
        reading->phase_power_w[p] = whole(shown->w[p]);
        reading->voltage_mv[p] = whole(shown->v[p] * 1000);
    }
}

static void read_solar(struct live *live)
{
    struct reading *reading = &live->reading;
    int32_t resolution_w = live->given->resolution_w;
    bool late = live->given->solar_late_s > 0;
    double pv_w = late ? live->solar_before_w : live->world.pv_w;
    reading->solar.sequence++;
    reading->solar.taken.ms = now_of(live).mono.ms - (late ? MS_PER_S : 0);
    reading->solar_power_w = whole(pv_w / resolution_w) * resolution_w;
}

/* What a sensor behind the contactor says. */
static void read_contact(struct live *live)
{
    live->own[0].contact.sequence++;
    live->own[0].contact.taken = now_of(live).mono;
    live->own[0].contact_closed = live->world.load[0].live;
}

static bool read_meters(struct live *live)
{
    if (live->s % live->given->poll_s != 0)
        return false;
    read_grid(live);
    if (live->given->rules.solar)
        read_solar(live);
    if (live->given->senses_voltage)
        read_contact(live);
    return true;
}

/* What was ordered a second ago is so now, as far as the board can say. */
static uint16_t confirm(struct live *live, struct confirmation news[])
{
    uint16_t count = 0;
    for (uint16_t i = 0; i < live->given->rules.load_count; i++) {
        int32_t level_w = live->world.load[i].coil[0] ? live->given->loads[i].power_w : 0;
        if (live->confirmed[i].health == OUTPUT_CONFIRMED && live->confirmed[i].level_w == level_w)
            continue;
        live->confirmed[i] = (struct confirmation){
            .load = i, .health = OUTPUT_CONFIRMED, .level_w = level_w, .at = now_of(live).mono};
        news[count++] = live->confirmed[i];
    }
    return count;
}

static void trace_experiment(const struct live *live, const struct experiment *experiment)
{
    static const char *const kinds[] = {"start", "stop", "opened", "closed", "foreign"};
    static const char *const seen[] = {"clear", "mixed", "unseen"};
    const struct house_load *load = &live->world.load[experiment->load];
    stamp(live);
    fprintf(live->trace,
            "%s of %u, %s: expected %d, step %d (phases %d %d %d), window %d ms, drew %d, thought "
            "open %d, heated %" PRId64 " Wh, %" PRId64 " min since opened; true: draws %.0f W, "
            "calls %d, top %.0f\n",
            kinds[experiment->kind], experiment->load, seen[experiment->seen],
            experiment->expected_w, experiment->step_w, experiment->phase_step_w[0],
            experiment->phase_step_w[1], experiment->phase_step_w[2], experiment->window_ms,
            experiment->drew, experiment->thought_open, experiment->heated_mj / 3600000,
            experiment->since_opened_ms / 60000, load->draw_w, load->heater.calls,
            is_heater(live, experiment->load) ? heater_top_c(&load->heater) : 0.0);
}

static void take_turn(struct live *live, const struct confirmation news[], uint16_t news_count)
{
    const struct rules_settings *rules = &live->given->rules;
    struct rules_input input = {.reading = &live->reading,
                                .load_reading = live->own,
                                .confirmations = news,
                                .confirmation_count = news_count,
                                .now = now_of(live)};
    rules_turn(rules, &live->memory, &input, live->decision, &live->outcome);
    for (uint16_t i = 0; i < rules->load_count; i++)
        live->world.load[i].coil[0] = live->decision[i].on;
    struct findings_input told =
        finding_input(rules, &live->memory, &input, live->decision, &live->outcome, live->told);
    findings_turn(&live->settings, &live->findings, &told);
    for (uint8_t k = 0; traces(live) && k < live->outcome.observed.experiment_count; k++)
        trace_experiment(live, &live->outcome.observed.experiment[k]);
    for (uint8_t k = 0; k < live->outcome.event_count; k++)
        judge_event(live, &live->outcome.event[k]);
    watch_periods(live);
}

/* ---- a life ------------------------------------------------------------------------------------
 */

static void begin(struct live *live)
{
    const struct diagnosis_case *given = live->given;
    world_init(&live->world, &given->world);
    live->day = INT32_MIN;
    live->reading.grid.quality = READING_FRESH;
    live->reading.has = HAS_GRID_POWER;
    if (given->rules.phase_count > 1)
        live->reading.has |= HAS_PHASE_POWER;
    if (given->tells_voltage)
        live->reading.has |= HAS_VOLTAGE;
    if (given->rules.solar) {
        live->reading.has |= HAS_SOLAR_POWER;
        live->reading.solar.quality = READING_FRESH;
    }
    if (given->senses_voltage)
        live->own[0].contact.quality = READING_FRESH;
    for (uint16_t i = 0; i < given->rules.load_count; i++)
        live->truth[i].called = live->world.load[i].heater.calls;
    rules_begin(&given->rules, &live->memory, live->loads, now_of(live), given->seed);
    live->settings = finding_settings(&given->rules, live->load_settings);
    findings_begin(&live->settings, &live->findings, live->findings_loads, now_of(live));
}

static void day_begins(struct live *live)
{
    struct prng prng = {.state = live->given->world.sky_seed + (uint64_t)live->s};
    live->day = live->world.local.day;
    sky_init(&live->world.sky, diagnosis_case_sky(live->given, live->day), prng_next(&prng));
}

/* A contact welds while it is closed. */
static bool fails_now(const struct live *live)
{
    const struct diagnosis_case *given = live->given;
    bool can = given->fault != CASE_WELDED || live->world.load[given->fault_load].pulled_in;
    return !live->failed && given->onset_s >= 0 && live->s >= given->onset_s && can;
}

/* Days are counted from the onset. */
static void count_days(struct live *live)
{
    if (fails_now(live)) {
        diagnosis_case_fail(live->given, &live->world);
        live->run->onset_s = live->s;
        live->failed = true;
        live->onset_day_s = live->s;
        live->heated_today = false;
        if (live->trace)
            stamp(live), fprintf(live->trace, "FAILS: %s\n", case_fault_name(live->given->fault));
    }
    if (live->failed && live->s - live->onset_day_s >= DAY_S) {
        live->run->heated_days += live->heated_today;
        live->heated_today = false;
        live->onset_day_s = live->s;
    }
    live->run->sound_seconds += !live->failed;
}

void diagnosis_run(const struct diagnosis_case *given, struct diagnosis_run *run, FILE *trace,
                   int64_t trace_from_s)
{
    struct live *live = calloc(1, sizeof(*live));
    *run = (struct diagnosis_run){.onset_s = -1, .seconds = given->days * (int64_t)DAY_S};
    if (!live)
        return;
    live->given = given;
    live->run = run;
    live->trace = trace;
    live->trace_from_s = trace_from_s;
    begin(live);
    struct confirmation news[CASE_LOADS_MAX];
    for (live->s = 0; live->s < run->seconds; live->s++) {
        count_days(live);
        live->solar_before_w = live->world.pv_w;
        world_step(&live->world, MS_PER_S);
        if (live->world.local.day != live->day)
            day_begins(live);
        watch_truth(live);
        bool read = read_meters(live);
        uint16_t count = confirm(live, news);
        if (read || count > 0 || now_of(live).mono.ms >= live->outcome.holds_until.ms)
            take_turn(live, news, count);
        if (live->s % LIST_S == 0)
            look_at_findings(live);
    }
    free(live);
}
