/* load_values.c - the values of a load: what it does and why, what it draws, its orders, its
 * energy.
 *
 * A value that is not known is not there: no state of an output that does not answer, no
 * draw before the meter has shown it. */
#include "getter.h"
#include "rules/kind.h"

static const struct decision *decision(const struct place *at)
{
    return &at->view->decisions[at->outer];
}

static const struct draw_view *draw(const struct place *at)
{
    return rules_draw(at->view->memory, (uint16_t)at->outer);
}

static int count_loads(const struct place *at)
{
    return at->view->settings->rules.load_count;
}

/* ---- what it is, and does ----------------------------------------------------------------- */

GET_TEXT(name, at->view->settings->names[at->outer].name);
GET_TEXT(title, at->view->settings->names[at->outer].title);
GET_NUMBER(nameplate, settings_of(at)->power_w);
GET_NUMBER(motor, settings_of(at)->motor);
GET_NUMBER(thermostat, settings_of(at)->thermostat);
GET_NUMBER(metered, settings_of(at)->metered);

static int count_its_phases(const struct place *at)
{
    (void)at;
    return PHASES;
}

GET_NUMBER(is_on_phase, settings_of(at)->phases >> at->inner & 1);

static const struct value_row phases_rows[] = {{.kind = VALUE_YES_NO, .get = get_is_on_phase}};
static const struct value_group phases = {
    .form = GROUP_BARE_LIST, .count = count_its_phases, VALUE_ROWS(phases_rows)};

GET_TEXT(kind, kind_choices[at->view->settings->loads[at->outer].kind].word);
GET_NUMBER(priority, settings_of(at)->priority);
GET_NUMBER(on, decision(at)->on);

/* One that is silent, or does other than it says, may be on whatever was ordered. */
static bool its_output_is_known(const struct place *at)
{
    return output_is_known((enum output_health)load(at)->health);
}

GET_NUMBER(state, load(at)->state);
GET_NUMBER(level, load(at)->level_w);

GET(tank_temperature)
{
    const struct load_reading *reading = &at->view->load_reading[at->outer];
    set_if(value, reading->tank.quality == READING_FRESH, reading->tank_temperature_mc);
}

/* What shows it may have gone since. */
static bool draw_is_known(const struct place *at)
{
    const struct draw_view *view = draw(at);
    if (view->state == DRAW_NONE) /* where nobody says that it is off it may be on */
        return view->off_shown && its_output_is_known(at);
    if (view->state != DRAW_SEEN && view->state != DRAW_STUCK)
        return view->state == DRAW_OPEN;
    const struct source *source = settings_of(at)->metered
                                      ? &at->view->load_reading[at->outer].power
                                      : &at->view->reading->grid;
    return source->quality == READING_FRESH;
}

GET_IF(draw_power, draw_is_known(at), draw(at)->draw_w);

enum { DRAW_IS_UNKNOWN = DRAW_STUCK + 1 };

GET(draw)
{
    enum draw_state state = draw(at)->state;
    bool was_seen = !draw_is_known(at) && (state == DRAW_SEEN || state == DRAW_STUCK);
    set(value, was_seen ? (int64_t)DRAW_IS_UNKNOWN : (int64_t)state);
}

GET_NUMBER(power, draw(at)->power_w);
GET_NUMBER(power_measured, draw(at)->power_measured);
GET_NUMBER(basis, decision(at)->basis);

GET(reason)
{
    struct text text = text_of(value);
    decision_text(at->view->settings, decision(at), &text);
}

/* By an input behind its contactor. */
GET_IF(contact_closed, at->view->load_reading[at->outer].contact.quality == READING_FRESH,
       at->view->load_reading[at->outer].contact_closed);

GET_TEXT(reason_name, reason_name(decision(at)->reason.code));

/* What the output is known to be, not what it was ordered; and when its device last said so. */
GET(output_is)
{
    bool stuck = draw(at)->state == DRAW_STUCK; /* against what it says */
    enum output_state state = at->view->outputs[at->outer].state;
    set(value, stuck ? OUTPUT_IS_UNKNOWN : state);
}

GET(output_heard)
{
    const struct output_view *output = &at->view->outputs[at->outer];
    set_if(value, output->has_been_heard, mono_since_ms(at->view->now.mono, output->heard));
}

GET_NUMBER(output, load(at)->health);
GET_TEXT(output_detail, at->view->output_details[at->outer]);

/* ---- orders ------------------------------------------------------------------------------- */

#define HAND_WORDS "auto,on,off"

GET_NUMBER(hand, load(at)->hand);

static bool hand_ends(const struct place *at)
{
    return load(at)->hand != HAND_AUTO && load(at)->hand_until.ms != MONO_NEVER.ms;
}

static int64_t hand_left_ms(const struct place *at)
{
    return mono_since_ms(load(at)->hand_until, at->view->now.mono);
}

GET_IF(hand_left, hand_ends(at), hand_left_ms(at));

/* In whole minutes, begun ones counted: what was ordered is what is read. */
GET(run_left)
{
    bool runs = hand_ends(at) && load(at)->hand == HAND_ON;
    int64_t minutes = runs ? (hand_left_ms(at) + MS_PER_MIN - 1) / MS_PER_MIN : 0;
    set(value, minutes * MS_PER_MIN);
}

GET(order)
{
    struct moment now = at->view->now;
    struct text text = text_of(value);
    value_write_word(HAND_WORDS, load(at)->hand, &text);
    if (!hand_ends(at) || !now.wall_trusted)
        return;
    text_add(&text, " until ");
    value_write_moment(&at->view->settings->rules.zone,
                       (struct wall){(now.wall.ms + hand_left_ms(at)) / MS_PER_S * MS_PER_S},
                       &text);
}

GET_NUMBER(test, load(at)->test);
GET_IF(test_left, load(at)->test != HAND_AUTO,
       mono_since_ms(load(at)->test_until, at->view->now.mono));

static struct rests_view rests(const struct place *at)
{
    return rules_rests(&at->view->settings->rules, at->view->memory, (uint16_t)at->outer);
}

GET_NUMBER(minimum_on_left, rests(at).on_ms);
GET_NUMBER(minimum_off_left, rests(at).off_ms);
GET_NUMBER(starts_wait, rests(at).starts_ms);

GET_NUMBER(enabled, !load(at)->disabled);
GET_NUMBER(inhibited, load(at)->inhibited);

/* By its thermostat, proven: one that only stopped drawing, or never drew, may be broken. */
GET(satisfied)
{
    const struct draw_view *view = &load(at)->draw.view;
    set(value, load(at)->draw.satisfied && !view->supposed && !view->unexplained && !view->unsure);
}

/* ---- holiday ------------------------------------------------------------------------------ */

static int is_holiday(const struct place *at)
{
    return at->view->memory->holiday_back.ms != 0;
}

static struct return_view return_of(const struct place *at)
{
    return rules_return(&at->view->settings->rules, (uint16_t)at->outer, at->view->now.wall,
                        at->view->memory->holiday_back);
}

GET_NUMBER(as_usual, settings_of(at)->normal_on_holiday);

GET(heated_from)
{
    struct return_view view = return_of(at);
    set_if(value, view.heats_up, view.from.ms);
}

GET(heat_up_short)
{
    struct return_view view = return_of(at);
    set_if(value, view.heats_up, view.short_ms);
}

static const struct value_row holiday_rows[] = {
    {.key = "as_usual", .kind = VALUE_YES_NO, .get = get_as_usual},
    {.key = "heated_from", .kind = VALUE_MOMENT, .get = get_heated_from},
    {.key = "heat_up_short_ms", .kind = VALUE_TIME_MS, .get = get_heat_up_short},
};
static const struct value_group holiday = {.count = is_holiday, VALUE_ROWS(holiday_rows)};

/* ---- time and energy ---------------------------------------------------------------------- */

/* Without the clock nobody knows when today began. */
static bool today_is_known(const struct place *at)
{
    return at->view->memory->trusted;
}

GET_NUMBER(energy_today, (load(at)->today.spare_mj + load(at)->today.grid_mj) / MJ_PER_MWH);

/* Each of them of today, and since the beginning. */
#define GET_SUM(what, member)                                                                      \
    GET_NUMBER(what##_today, load(at)->today.member);                                              \
    GET_NUMBER(what##_total, load(at)->total.member)
GET_SUM(on, on_ms);
GET_SUM(draw, draw_ms);
GET_SUM(spare, spare_mj / MJ_PER_MWH);
GET_SUM(grid, grid_mj / MJ_PER_MWH);
GET_SUM(assumed, assumed_mj / MJ_PER_MWH);
GET_SUM(starts, starts);

static const struct value_row today_rows[] = {
    {.key = "on_ms", .kind = VALUE_TIME_MS, .get = get_on_today, .phrase = "% on"},
    {.kind = VALUE_ENERGY_MWH,
     .get = get_energy_today,
     .topic = "energy-today",
     .name = "Energy today",
     .topic_when = today_is_known,
     .slow = true},
    {.key = "draw_ms",
     .kind = VALUE_TIME_MS,
     .get = get_draw_today,
     .topic = "run-time-today",
     .name = "Time drawing power today",
     .topic_when = today_is_known,
     .slow = true},
    {.key = "spare_mwh",
     .kind = VALUE_ENERGY_MWH,
     .get = get_spare_today,
     .topic = "energy-spare-today",
     .name = "Energy from spare power today",
     .topic_when = today_is_known,
     .slow = true,
     .phrase = "% from spare"},
    {.key = "grid_mwh",
     .kind = VALUE_ENERGY_MWH,
     .get = get_grid_today,
     .topic = "energy-grid-today",
     .name = "Energy from the grid today",
     .topic_when = today_is_known,
     .slow = true,
     .phrase = "% from grid"},
    {.key = "assumed_mwh",
     .kind = VALUE_ENERGY_MWH,
     .get = get_assumed_today,
     .topic = "energy-assumed-today",
     .name = "Of the energy today, what no meter showed",
     .topic_when = today_is_known,
     .slow = true,
     .phrase = "% of it not shown by a meter"},
    {.key = "starts",
     .kind = VALUE_COUNT,
     .get = get_starts_today,
     .topic = "starts-today",
     .name = "Starts today",
     .topic_when = today_is_known,
     .phrase = "% start(s)"},
};
static const struct value_group today = {VALUE_ROWS(today_rows)};

static const struct value_row total_rows[] = {
    {.key = "on_ms", .kind = VALUE_TIME_MS, .get = get_on_total},
    {.key = "draw_ms", .kind = VALUE_TIME_MS, .get = get_draw_total},
    {.key = "spare_mwh", .kind = VALUE_ENERGY_MWH, .get = get_spare_total},
    {.key = "grid_mwh", .kind = VALUE_ENERGY_MWH, .get = get_grid_total},
    {.key = "assumed_mwh", .kind = VALUE_ENERGY_MWH, .get = get_assumed_total},
    {.key = "starts", .kind = VALUE_COUNT, .get = get_starts_total},
};
static const struct value_group total = {VALUE_ROWS(total_rows)};

/* For whoever keeps statistics: never less than was told before, over restarts too. */
#define GET_STORED(what, number)                                                                   \
    GET(what##_stored)                                                                             \
    {                                                                                              \
        const struct stored_totals *stored = &at->view->stored[at->outer];                         \
        set(value, number);                                                                        \
    }                                                                                              \
    struct place

static bool is_stored(const struct place *at)
{
    return at->view->stored && at->view->stored[at->outer].known;
}

GET_STORED(energy, (stored->totals.spare_mj + stored->totals.grid_mj) / MJ_PER_MWH);
GET_STORED(spare, stored->totals.spare_mj / MJ_PER_MWH);
GET_STORED(grid, stored->totals.grid_mj / MJ_PER_MWH);
GET_STORED(draw, stored->totals.draw_ms);
GET_STORED(starts, stored->totals.starts);

/* ---- a load ------------------------------------------------------------------------------- */

static void name_load(const struct place *at, struct mqtt_property *property)
{
    const struct load_names *names = &at->view->settings->names[at->outer];
    snprintf(property->node, sizeof(property->node), "%s", names->name);
    snprintf(property->node_name, sizeof(property->node_name), "%s", names->title);
}

static const struct value_row load_rows[] = {
    {.key = "name", .kind = VALUE_TEXT, .get = get_name},
    {.key = "title", .kind = VALUE_TEXT, .get = get_title},
    {.key = "kind", .kind = VALUE_TEXT, .get = get_kind},
    {.key = "nameplate_w", .kind = VALUE_POWER_W, .get = get_nameplate},
    {.key = "phases", .kind = VALUE_GROUP, .group = &phases},
    {.key = "motor", .kind = VALUE_YES_NO, .get = get_motor},
    {.key = "thermostat", .kind = VALUE_YES_NO, .get = get_thermostat},
    {.key = "metered", .kind = VALUE_YES_NO, .get = get_metered},
    {.key = "priority", .kind = VALUE_COUNT, .get = get_priority},
    {.key = "on",
     .kind = VALUE_YES_NO,
     .get = get_on,
     .topic = "on",
     .name = "On",
     .topic_when = its_output_is_known},
    {.key = "state", .kind = VALUE_WORD, .words = "off,starting,on,stopping", .get = get_state},
    {.key = "level_w", .kind = VALUE_POWER_W, .get = get_level},
    {.key = "tank_temperature_mc", .kind = VALUE_TEMPERATURE_MC, .get = get_tank_temperature},
    {.key = "draw_w",
     .kind = VALUE_POWER_W,
     .get = get_draw_power,
     .topic = "power",
     .name = "Power drawn"},
    {.key = "draw",
     .kind = VALUE_WORD,
     .words = "none,waiting,seen,open,assumed,stuck,unknown",
     .get = get_draw},
    {.key = "power_w", .kind = VALUE_POWER_W, .get = get_power},
    {.key = "power_measured", .kind = VALUE_YES_NO, .get = get_power_measured},
    {.key = "basis",
     .kind = VALUE_WORD,
     .words = BASIS_WORDS,
     .get = get_basis,
     .topic = "basis",
     .name = "Basis of the run"},
    {.key = "reason",
     .kind = VALUE_TEXT,
     .get = get_reason,
     .topic = "reason",
     .name = "Reason",
     .slow = true},
    {.key = "reason_name", .kind = VALUE_TEXT, .get = get_reason_name},
    {.key = "output_is", .kind = VALUE_WORD, .words = "unknown,off,on", .get = get_output_is},
    {.key = "output_heard_ms", .kind = VALUE_TIME_MS, .get = get_output_heard},
    {.key = "output",
     .kind = VALUE_WORD,
     .words = "unknown,confirmed,pending,failed,unsafe,unconfirmed",
     .get = get_output,
     .topic = "output",
     .name = "Output"},
    {.key = "contact_closed", .kind = VALUE_YES_NO, .get = get_contact_closed},
    {.key = "output_detail", .kind = VALUE_TEXT, .get = get_output_detail},
    {.kind = VALUE_TEXT,
     .get = get_faults_of_load,
     .topic = "faults",
     .name = "Faults: how many, and the first",
     .slow = true},
    {.key = "hand",
     .kind = VALUE_WORD,
     .words = HAND_WORDS,
     .get = get_hand,
     .topic = "mode",
     .name = "Mode",
     .order = ORDER_MODE,
     .takes = "auto; on; off"},
    {.kind = VALUE_TIME_MS,
     .get = get_run_left,
     .topic = "run-for",
     .name = "Manual run: time left",
     .order = ORDER_RUN_FOR,
     .range = "0:1440",
     .takes = "120; 0"},
    {.key = "hand_left_ms", .kind = VALUE_TIME_MS, .get = get_hand_left},
    {.key = "test", .kind = VALUE_WORD, .words = "none,on,off", .get = get_test},
    {.key = "test_left_ms", .kind = VALUE_TIME_MS, .get = get_test_left},
    {.key = "minimum_on_left_ms", .kind = VALUE_TIME_MS, .get = get_minimum_on_left},
    {.key = "minimum_off_left_ms", .kind = VALUE_TIME_MS, .get = get_minimum_off_left},
    {.key = "starts_wait_ms", .kind = VALUE_TIME_MS, .get = get_starts_wait},
    {.kind = VALUE_TEXT,
     .get = get_order,
     .topic = "order",
     .name = "Manual order",
     .order = ORDER_RUN,
     .takes = "on 2 h; on until 17:00; off; off 2 h; auto"},
    {.key = "enabled",
     .kind = VALUE_YES_NO,
     .get = get_enabled,
     .topic = "enable",
     .name = "Automatic control",
     .order = ORDER_ENABLE,
     .takes = "true; false"},
    {.key = "inhibited",
     .kind = VALUE_YES_NO,
     .get = get_inhibited,
     .topic = "inhibit",
     .name = "Inhibit",
     .order = ORDER_INHIBIT,
     .takes = "true; false"},
    {.key = "satisfied", .kind = VALUE_YES_NO, .get = get_satisfied},
    {.key = "last_start", .kind = VALUE_GROUP, .group = &values_of_start},
    {.key = "last_stop", .kind = VALUE_GROUP, .group = &values_of_stop},
    {.key = "holiday", .kind = VALUE_GROUP, .group = &holiday},
    {.key = "today", .kind = VALUE_GROUP, .group = &today},
    {.key = "total", .kind = VALUE_GROUP, .group = &total},
    {.kind = VALUE_ENERGY_MWH,
     .get = get_energy_stored,
     .topic = "energy-total",
     .name = "Energy since the beginning",
     .topic_when = is_stored,
     .slow = true},
    {.kind = VALUE_ENERGY_MWH,
     .get = get_spare_stored,
     .topic = "energy-spare-total",
     .name = "Energy from spare power since the beginning",
     .topic_when = is_stored,
     .slow = true},
    {.kind = VALUE_ENERGY_MWH,
     .get = get_grid_stored,
     .topic = "energy-grid-total",
     .name = "Energy from the grid since the beginning",
     .topic_when = is_stored,
     .slow = true},
    {.kind = VALUE_TIME_MS,
     .get = get_draw_stored,
     .topic = "run-time-total",
     .name = "Time drawing power since the beginning",
     .topic_when = is_stored,
     .slow = true},
    {.kind = VALUE_COUNT,
     .get = get_starts_stored,
     .topic = "starts-total",
     .name = "Starts since the beginning",
     .topic_when = is_stored,
     .slow = true},
    {.key = "floors", .kind = VALUE_GROUP, .group = &values_of_floor},
    {.key = "heat", .kind = VALUE_GROUP, .group = &values_of_heat},
};
const struct value_group values_of_load = {.form = GROUP_LIST,
                                           .count = count_loads,
                                           VALUE_ROWS(load_rows),
                                           .node = name_load,
                                           .node_pattern = "LOAD"};
