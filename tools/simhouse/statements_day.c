/* The day: what happens at which time, and what must hold. Times are the true
 * local time of the scenario, whatever the daemon's clock is made to show. */
#include <stddef.h>
#include <stdio.h>
#include <string.h>

#include "must.h"
#include "statements.h"

#define ROWS(array) (array), (int)(sizeof(array) / sizeof((array)[0]))

static bool resolve(const struct scenario *scenario, struct cursor *cursor, int64_t after_ms,
                    int64_t *at_ms)
{
    int64_t day = 0;
    int32_t second;
    if (cursor_match(cursor, "day") && (!cursor_count(cursor, 400, &day, "a day, 1 is the first")))
        return false;
    if (!cursor_time(cursor, &second))
        return false;
    for (int64_t d = day ? day - 1 : 0;; d++) {
        struct wall wall =
            wall_of_local(&scenario->house.zone, scenario->start_day + (int32_t)d, second);
        *at_ms = wall.ms - scenario->house.start.ms;
        if (*at_ms >= after_ms)
            return true;
        if (day)
            return trouble_set(cursor->trouble, "", "that time has gone by then");
    }
}

/* 10:00 | day 2 10:00 | +90 min */
static bool read_when(const struct scenario *scenario, struct cursor *cursor, int64_t *at_ms)
{
    if (!scenario->has_start)
        return trouble_set(cursor->trouble, "", "\"start\" must come before \"at\"");
    const char *word = cursor_peek(cursor);
    if (word[0] != '+')
        return resolve(scenario, cursor, 0, at_ms);
    double ms;
    if (word[1] == '\0')
        cursor->next++;
    else
        cursor->word[cursor->next]++;
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1, &ms))
        return false;
    *at_ms = (int64_t)ms;
    return true;
}

/* until 10:20 | for 20 min | nothing: it stays. -1 in *end_ms: it stays. */
static bool read_until(const struct scenario *scenario, struct cursor *cursor, int64_t from_ms,
                       int64_t *end_ms)
{
    *end_ms = -1;
    if (cursor_match(cursor, "until"))
        return resolve(scenario, cursor, from_ms + 1, end_ms);
    double ms;
    if (!cursor_match(cursor, "for"))
        return true;
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1, &ms))
        return false;
    *end_ms = from_ms + (int64_t)ms;
    return true;
}

static bool add_event(struct scenario *scenario, struct cursor *cursor, struct event event)
{
    if (scenario->event_count == EVENTS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d events", EVENTS_MAX);
    scenario->event[scenario->event_count++] = event;
    return true;
}

struct wire_fault_row {
    const char *word;
    bool has_amount;
    enum quantity_kind kind;
    int64_t amount; /* where none is given */
};

static const struct wire_fault_row wire_fault_rows[] = {
    [WIRE_SOUND] = {"none", false, 0, 0},
    [WIRE_SILENT] = {"silent", false, 0, 0},
    [WIRE_GARBAGE] = {"garbage", false, 0, 0},
    [WIRE_CORRUPT] = {"corrupt", false, 0, 0},
    [WIRE_WRONG_UNIT] = {"wrong-unit", false, 0, 0},
    [WIRE_TRUNCATED] = {"truncated", false, 0, 0},
    [WIRE_LATE] = {"late", true, QUANTITY_DURATION_MS, 700},
    [WIRE_PREVIOUS_ANSWER] = {"previous-answer", false, 0, 0},
    [WIRE_EXCEPTION] = {"exception", true, QUANTITY_COUNT, 4},
    [WIRE_NAN] = {"nan", false, 0, 0},
    [WIRE_STUCK] = {"stuck", false, 0, 0},
    [WIRE_JUMP] = {"jump", true, QUANTITY_POWER_W, -60000},
    [WIRE_OTHER_UNIT] = {"answers-of", true, QUANTITY_COUNT, 0},
    [WIRE_LEAP] = {"leap", true, QUANTITY_ENERGY_MWH, 48091000000},
    [WIRE_REFUSE] = {"refuse", false, 0, 0},
    [WIRE_IGNORE] = {"ignore", false, 0, 0},
    [WIRE_READS_OFF] = {"reads-off", false, 0, 0},
};

struct load_fault_row {
    const char *word;
    bool (*amount)(struct cursor *cursor, double *amount); /* NULL: it has none */
    bool has_phases, of_heater;
};

/* 1/2, 0.5 or 50 % */
static bool read_share(struct cursor *cursor, double *share)
{
    int over, under, used = 0;
    const char *word = cursor_peek(cursor);
    if (sscanf(word, "%3d/%3d%n", &over, &under, &used) == 2 && word[used] == '\0' && under > 0) {
        cursor->next++;
        *share = (double)over / under;
        return true;
    }
    return cursor_quantity(cursor, QUANTITY_SHARE_PERMILLE, 1e-3, share);
}

static bool read_left(struct cursor *cursor, double *share)
{
    int at = cursor->next;
    if (read_share(cursor, share) && *share >= 0 && *share <= 1)
        return true;
    cursor->next = at;
    return cursor_fail(cursor, "the share that is left, such as 1/2 or 67 %");
}

/* 110 %: a resistance of nothing would draw without end. */
static bool read_resistance(struct cursor *cursor, double *share)
{
    int at = cursor->next;
    if (read_share(cursor, share) && *share >= 0.1)
        return true;
    cursor->next = at;
    return cursor_fail(cursor,
                       "a share of the nameplate's resistance, 10 % or more, such as 110 %");
}

/* 5 % a year */
static bool read_drift(struct cursor *cursor, double *share)
{
    return read_share(cursor, share) &&
           ((cursor_match(cursor, "a") && cursor_match(cursor, "year")) ||
            cursor_fail(cursor, "a year"));
}

/* 10 L/h */
static bool read_leak(struct cursor *cursor, double *l_h)
{
    return cursor_number(cursor, l_h, "a leak, such as 10 L/h") &&
           (cursor_match(cursor, "L/h") || cursor_fail(cursor, "L/h"));
}

static const struct load_fault_row load_fault_rows[] = {
    [FAULT_WELDED] = {"welded", NULL, false, false},
    [FAULT_COIL_OPEN] = {"coil-open", NULL, false, false},
    [FAULT_BYPASSED] = {"bypassed", NULL, false, false},
    [FAULT_BREAKER_OFF] = {"breaker-off", NULL, false, false},
    [FAULT_SUPPLY_OFF] = {"supply-off", NULL, false, false},
    [FAULT_ELEMENT_BROKEN] = {"element-broken", NULL, false, false},
    [FAULT_ELEMENT_LEFT] = {"element-left", read_left, true, true},
    [FAULT_ELEMENT_RESISTANCE] = {"element-resistance", read_resistance, false, true},
    [FAULT_ELEMENT_DRIFT] = {"element-drift", read_drift, false, true},
    [FAULT_THERMOSTAT_CLOSED] = {"thermostat-closed", NULL, false, true},
    [FAULT_THERMOSTAT_OPEN] = {"thermostat-open", NULL, false, true},
    [FAULT_THERMOSTAT_OPENS_FOR_GOOD] = {"thermostat-opens-for-good", NULL, false, true},
    [FAULT_CUT_OUT] = {"cut-out-open", NULL, false, true},
    [FAULT_RELIEF_LEAK] = {"relief-valve-leaks", read_leak, false, true},
    [FAULT_HOT_LEAK] = {"hot-leak", read_leak, false, true},
};

/* water-heater element-left 2/3 phase L2 | water-heater none: all is repaired */
static bool read_load_fault(const struct scenario *scenario, struct cursor *cursor,
                            struct event *event)
{
    const char *words[HOUSE_FAULTS];
    for (int i = 0; i < HOUSE_FAULTS; i++)
        words[i] = load_fault_rows[i].word;
    event->kind = EVENT_LOAD_REPAIRED;
    if (cursor_match(cursor, "none"))
        return true;
    event->kind = EVENT_LOAD_FAULT;
    int kind;
    if (!cursor_choice(cursor, ROWS(words), &kind,
                       "welded, coil-open, bypassed, breaker-off, supply-off, element-broken, "
                       "element-left, element-resistance, element-drift, thermostat-closed, "
                       "thermostat-open, thermostat-opens-for-good, cut-out-open, "
                       "relief-valve-leaks, hot-leak or none"))
        return false;
    const struct load_fault_row *row = &load_fault_rows[kind];
    event->load_fault.kind = (enum house_fault_kind)kind;
    if (row->of_heater && scenario->house.load[event->load].kind != HOUSE_HEATER)
        return trouble_set(cursor->trouble, "", "\"%s\" is a fault of heaters; %s is none",
                           row->word, scenario->load[event->load].name);
    if (row->amount && !row->amount(cursor, &event->load_fault.amount))
        return false;
    return !row->has_phases || !cursor_match(cursor, "phase") ||
           cursor_phases(cursor, &event->load_fault.phases);
}

static bool read_wire_fault(struct cursor *cursor, struct event *event)
{
    const char *words[sizeof(wire_fault_rows) / sizeof(wire_fault_rows[0])];
    for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
        words[i] = wire_fault_rows[i].word;
    int fault;
    if (!cursor_choice(
            cursor, ROWS(words), &fault,
            "silent, garbage, corrupt, wrong-unit, truncated, late, previous-answer, "
            "exception, nan, stuck, jump, answers-of, leap, refuse, ignore, reads-off or none"))
        return false;
    const struct wire_fault_row *row = &wire_fault_rows[fault];
    event->fault = (enum wire_fault)fault;
    event->kind = EVENT_UNIT_FAULT;
    event->amount = row->amount;
    const char *next = cursor_peek(cursor);
    if (row->has_amount && row->amount == 0 && !(*next >= '1' && *next <= '9'))
        return cursor_fail(cursor, "the unit whose values it shows");
    bool negative = *next == '-';
    if (!row->has_amount || !((*next >= '0' && *next <= '9') || negative))
        return true;
    double amount;
    if (negative)
        cursor->word[cursor->next]++;
    if (!cursor_quantity(cursor, row->kind, 1, &amount))
        return false;
    event->amount = (int64_t)(negative ? -amount : amount);
    return true;
}

struct meter_fault_row {
    const char *word;
    int phases; /* how many it needs; 0: any, and all where none is told */
    size_t offset;
};

static const struct meter_fault_row meter_fault_rows[] = {
    {"ct-reversed", 0, offsetof(struct grid_meter_faults, reversed)},
    {"exchanged", 2, offsetof(struct grid_meter_faults, exchanged)},
    {"cts-exchanged", 2, offsetof(struct grid_meter_faults, crossed)},
};

static bool read_meter_phases(const struct scenario *scenario, struct cursor *cursor,
                              const struct meter_fault_row *row, uint8_t *phases)
{
    uint8_t all = (uint8_t)((1 << scenario->house.grid.phase_count) - 1);
    int at = cursor->next;
    *phases = all;
    if (row->phases == 0 && cursor_peek(cursor)[0] != 'L')
        return true;
    if (!cursor_phases(cursor, phases))
        return false;
    if ((*phases & ~all) == 0 && (row->phases == 0 || __builtin_popcount(*phases) == row->phases))
        return true;
    cursor->next = at;
    return cursor_fail(cursor, row->phases == 2 ? "two phases of the supply, such as L1,L2"
                                                : "phases that the supply has");
}

/* ct-reversed L1 | ct-reversed | exchanged L1,L2 | cts-exchanged L1,L2; taken: it is one. */
static bool read_meter_fault(const struct scenario *scenario, struct cursor *cursor,
                             struct event *event, bool *taken)
{
    for (size_t i = 0; i < sizeof(meter_fault_rows) / sizeof(meter_fault_rows[0]); i++) {
        const struct meter_fault_row *row = &meter_fault_rows[i];
        if (!cursor_match(cursor, row->word))
            continue;
        *taken = true;
        event->kind = EVENT_METER_FAULT;
        return read_meter_phases(scenario, cursor, row,
                                 (uint8_t *)&event->meter_fault + row->offset);
    }
    *taken = false;
    return true;
}

struct unit_word {
    const char *word;
    uint8_t unit;
};

static const struct unit_word unit_words[] = {
    {"inverter", UNIT_ID_INVERTER},
    {"relay", UNIT_ID_RELAYS},
    {"charger", UNIT_ID_CHARGER},
    {"battery", UNIT_ID_BATTERY},
};

/* fault meter silent | fault unit 21 late 900 ms | fault bus gone |
 * fault water-heater welded */
static bool read_fault(struct scenario *scenario, struct cursor *cursor, struct event *event)
{
    if (cursor_match(cursor, "bus")) {
        event->kind = EVENT_BUS_GONE;
        return cursor_match(cursor, "gone") || cursor_fail(cursor, "gone");
    }
    event->load = scenario_load(scenario, cursor_peek(cursor));
    if (event->load >= 0) {
        cursor->next++;
        return read_load_fault(scenario, cursor, event);
    }
    if (strcmp(cursor_peek(cursor), "meter") == 0) {
        bool taken;
        event->unit = UNIT_ID_METER;
        cursor->next++;
        if (!read_meter_fault(scenario, cursor, event, &taken))
            return false;
        return taken || read_wire_fault(cursor, event);
    }
    for (size_t i = 0; i < sizeof(unit_words) / sizeof(unit_words[0]); i++)
        if (cursor_match(cursor, unit_words[i].word)) {
            event->unit = unit_words[i].unit;
            return read_wire_fault(cursor, event);
        }
    int64_t unit;
    if (!cursor_match(cursor, "unit"))
        return cursor_fail(
            cursor, "meter, inverter, relay, charger, battery, unit N, bus, or a load's name");
    if (!cursor_count(cursor, 247, &unit, "a unit id, 1 to 247"))
        return false;
    event->unit = (uint8_t)unit;
    return read_wire_fault(cursor, event);
}

static bool read_fault_event(struct scenario *scenario, struct cursor *cursor, struct event event)
{
    int64_t end_ms;
    if (!read_fault(scenario, cursor, &event) ||
        !read_until(scenario, cursor, event.at_ms, &end_ms) || !add_event(scenario, cursor, event))
        return false;
    if (end_ms < 0)
        return true;
    event.at_ms = end_ms;
    event.fault = WIRE_SOUND;
    if (event.kind == EVENT_BUS_GONE)
        event.kind = EVENT_BUS_BACK;
    if (event.kind == EVENT_LOAD_FAULT)
        event.kind = EVENT_LOAD_MENDED;
    if (event.kind == EVENT_METER_FAULT)
        event.kind = EVENT_METER_MENDED;
    return add_event(scenario, cursor, event);
}

/* clock +1 h | clock -30 min | clock untrusted | clock trusted | clock right */
static bool read_clock_event(struct scenario *scenario, struct cursor *cursor, struct event event)
{
    if (cursor_match(cursor, "right")) {
        event.kind = EVENT_CLOCK_RIGHT;
        return add_event(scenario, cursor, event);
    }
    event.kind = EVENT_CLOCK_TRUST;
    event.amount = 1;
    if (cursor_match(cursor, "trusted"))
        return add_event(scenario, cursor, event);
    event.amount = 0;
    if (cursor_match(cursor, "untrusted"))
        return add_event(scenario, cursor, event);
    char sign = cursor_peek(cursor)[0];
    if (sign != '+' && sign != '-')
        return cursor_fail(cursor, "+1 h, -1 h, untrusted, trusted or right");
    double ms;
    if (cursor_peek(cursor)[1] == '\0')
        cursor->next++;
    else
        cursor->word[cursor->next]++;
    if (!cursor_quantity(cursor, QUANTITY_DURATION_MS, 1, &ms))
        return false;
    event.kind = EVENT_CLOCK_STEP;
    event.amount = (int64_t)(sign == '-' ? -ms : ms);
    return add_event(scenario, cursor, event);
}

static int button_of(const struct scenario *scenario, const char *name)
{
    for (int i = 0; i < scenario->input_count; i++)
        if (scenario->input[i].kind == INPUT_BUTTON && strcmp(scenario->input[i].name, name) == 0)
            return i;
    return -1;
}

/* press boost | hold boost for 5 s | hold boost until 10:05 | hold boost: for good */
static bool read_button_event(struct scenario *scenario, struct cursor *cursor, struct event event,
                              bool held)
{
    event.input = button_of(scenario, cursor_peek(cursor));
    if (event.input < 0)
        return cursor_fail(cursor, "the name of a button that stands above");
    cursor->next++;
    int64_t end_ms = event.at_ms;
    event.kind = EVENT_BUTTON;
    event.amount = 1;
    if ((held && !read_until(scenario, cursor, event.at_ms, &end_ms)) ||
        !add_event(scenario, cursor, event))
        return false;
    event.kind = held ? EVENT_BUTTON : EVENT_LET_GO;
    event.amount = 0;
    event.at_ms = end_ms;
    return end_ms < 0 || add_event(scenario, cursor, event);
}

/* turn water-heater hand */
static bool read_turn_event(struct scenario *scenario, struct cursor *cursor, struct event event)
{
    static const char *const words[] = {
        [SWITCH_AUTO] = "auto", [SWITCH_ON] = "hand", [SWITCH_OFF] = "off"};
    int position;
    event.kind = EVENT_TURN;
    event.load = scenario_load(scenario, cursor_peek(cursor));
    if (event.load < 0)
        return cursor_fail(cursor, "the name of a load that stands above");
    cursor->next++;
    if (!cursor_choice(cursor, ROWS(words), &position, "hand, off or auto"))
        return false;
    event.amount = position;
    return add_event(scenario, cursor, event);
}

static bool read_run_event(struct scenario *scenario, struct cursor *cursor, struct event event)
{
    event.kind = EVENT_RUN;
    struct text text = text_in(event.command, sizeof(event.command));
    for (bool first = true; !cursor_ended(cursor); first = false)
        text_add(&text, "%s%s", first ? "" : " ", cursor->word[cursor->next++]);
    if (text.full || text.used == 0)
        return trouble_set(cursor->trouble, "", "a command of 1 to %d characters is expected",
                           COMMAND_MAX - 1);
    return add_event(scenario, cursor, event);
}

static bool read_at(struct scenario *scenario, struct cursor *cursor, int line)
{
    struct event event = {.line = line};
    if (!read_when(scenario, cursor, &event.at_ms))
        return false;
    if (cursor_match(cursor, "fault"))
        return read_fault_event(scenario, cursor, event);
    if (cursor_match(cursor, "clock"))
        return read_clock_event(scenario, cursor, event);
    if (cursor_match(cursor, "run"))
        return read_run_event(scenario, cursor, event);
    if (cursor_match(cursor, "press"))
        return read_button_event(scenario, cursor, event, false);
    if (cursor_match(cursor, "hold"))
        return read_button_event(scenario, cursor, event, true);
    if (cursor_match(cursor, "turn"))
        return read_turn_event(scenario, cursor, event);
    return cursor_fail(cursor, "fault, clock, press, hold, turn or run");
}

/* From the start: clock 1970 | clock untrusted */
static bool read_clock(struct scenario *scenario, struct cursor *cursor, int line)
{
    (void)line;
    if (cursor_match(cursor, "1970"))
        scenario->clock_1970 = scenario->clock_untrusted = true;
    else if (cursor_match(cursor, "untrusted"))
        scenario->clock_untrusted = true;
    else
        return cursor_fail(cursor, "1970 or untrusted");
    return true;
}

static bool read_must(struct scenario *scenario, struct cursor *cursor, int line)
{
    if (scenario->must_count == MUSTS_MAX)
        return trouble_set(cursor->trouble, "", "more than %d musts", MUSTS_MAX);
    struct must must = {.line = line};
    if (!must_read(&must, scenario, cursor))
        return false;
    scenario->must[scenario->must_count++] = must;
    return true;
}

const struct statement_row day_statements[] = {
    {"at", read_at},
    {"clock", read_clock},
    {"must", read_must},
    {NULL, NULL},
};
