/* load_values.c - the values of a load: what it does and why, what it draws, its orders, its
 * energy, its floors, what it has learnt.
 *
 * A value that is not known is not there: no state of an output that does not answer, no
 * draw before the meter has shown it, no deadline before the clock is set. */
#include "getter.h"

static const struct load_memory *load(const struct place *at)
{
    return &at->view->memory->loads[at->outer];
}

static const struct load_settings *settings_of(const struct place *at)
{
    return &at->view->settings->loads[at->outer];
}

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

GET(name)
{
    set_text(value, at->view->settings->names[at->outer].name);
}

GET(title)
{
    set_text(value, at->view->settings->names[at->outer].title);
}

GET(kind)
{
    set(value, settings_of(at)->kind);
}

GET(priority)
{
    set(value, settings_of(at)->priority);
}

GET(on)
{
    set(value, decision(at)->on);
}

/* One that is silent, or does other than it says, may be on whatever was ordered. */
static bool its_output_is_known(const struct place *at)
{
    return output_is_known((enum output_health)load(at)->health);
}

GET(state)
{
    set(value, load(at)->state);
}

GET(level)
{
    set(value, load(at)->level_w);
}

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

GET(draw_power)
{
    set_if(value, draw_is_known(at), draw(at)->draw_w);
}

enum { DRAW_IS_UNKNOWN = DRAW_STUCK + 1 };

GET(draw)
{
    enum draw_state state = draw(at)->state;
    bool was_seen = !draw_is_known(at) && (state == DRAW_SEEN || state == DRAW_STUCK);
    set(value, was_seen ? (int64_t)DRAW_IS_UNKNOWN : (int64_t)state);
}

GET(power)
{
    set(value, draw(at)->power_w);
}

GET(power_measured)
{
    set(value, draw(at)->power_measured);
}

GET(basis)
{
    set(value, decision(at)->basis);
}

GET(reason)
{
    struct text text = text_of(value);
    decision_text(at->view->settings, decision(at), &text);
}

GET(reason_name)
{
    set_text(value, reason_name(decision(at)->reason.code));
}

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

GET(output)
{
    set(value, load(at)->health);
}

GET(output_detail)
{
    set_text(value, at->view->output_details[at->outer]);
}

/* ---- orders ------------------------------------------------------------------------------- */

#define HAND_WORDS "auto,on,off"

GET(hand)
{
    set(value, load(at)->hand);
}

static bool hand_ends(const struct place *at)
{
    return load(at)->hand != HAND_AUTO && load(at)->hand_until.ms != MONO_NEVER.ms;
}

static int64_t hand_left_ms(const struct place *at)
{
    return mono_since_ms(load(at)->hand_until, at->view->now.mono);
}

GET(hand_left)
{
    set_if(value, hand_ends(at), hand_left_ms(at));
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

GET(enabled)
{
    set(value, !load(at)->disabled);
}

GET(inhibited)
{
    set(value, load(at)->inhibited);
}

/* By its thermostat, proven: one that only stopped drawing, or never drew, may be broken. */
GET(satisfied)
{
    const struct draw_view *view = &load(at)->draw.view;
    set(value, load(at)->satisfied && !view->supposed && !view->unexplained && !view->unsure);
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

GET(as_usual)
{
    set(value, settings_of(at)->normal_on_holiday);
}

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

GET(energy_today)
{
    set(value, (load(at)->today.spare_mj + load(at)->today.grid_mj) / MJ_PER_MWH);
}

/* The same five of a day and since the beginning. */
#define GET_TOTALS(of)                                                                             \
    GET(on_##of)                                                                                   \
    {                                                                                              \
        set(value, load(at)->of.on_ms);                                                            \
    }                                                                                              \
    GET(draw_##of)                                                                                 \
    {                                                                                              \
        set(value, load(at)->of.draw_ms);                                                          \
    }                                                                                              \
    GET(spare_##of)                                                                                \
    {                                                                                              \
        set(value, load(at)->of.spare_mj / MJ_PER_MWH);                                            \
    }                                                                                              \
    GET(grid_##of)                                                                                 \
    {                                                                                              \
        set(value, load(at)->of.grid_mj / MJ_PER_MWH);                                             \
    }                                                                                              \
    GET(starts_##of)                                                                               \
    {                                                                                              \
        set(value, load(at)->of.starts);                                                           \
    }

/* clang-format off */
GET_TOTALS(today)
GET_TOTALS(total)
/* clang-format on */

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
    {.key = "starts", .kind = VALUE_COUNT, .get = get_starts_total},
};
static const struct value_group total = {VALUE_ROWS(total_rows)};

/* ---- floors ------------------------------------------------------------------------------- */

static int count_floors(const struct place *at)
{
    return settings_of(at)->floor_count;
}

static struct floor_view floor_of(const struct place *at)
{
    return rules_floor(&at->view->settings->rules, at->view->memory, (uint16_t)at->outer,
                       (uint8_t)at->inner);
}

static bool floor_has_begun(const struct place *at)
{
    return floor_of(at).begun;
}

GET(measure)
{
    set(value, settings_of(at)->floor[at->inner].measure);
}

GET(amount)
{
    set(value, floor_of(at).amount);
}

GET(done)
{
    set(value, floor_of(at).done);
}

GET(left)
{
    set(value, floor_of(at).left);
}

GET(progress)
{
    struct floor_view view = floor_of(at);
    int64_t percent =
        view.met || view.amount <= 0 ? 100 : 100 * (view.amount - view.left) / view.amount;
    set(value, percent < 0 ? 0 : percent > 100 ? 100 : percent);
}

/* Not known where it was run, and nothing shows whether it drew. */
GET(met)
{
    struct floor_view view = floor_of(at);
    set_if(value, !view.blind, view.met);
}

GET(due)
{
    set(value, floor_of(at).due);
}

GET(deadline)
{
    struct floor_view view = floor_of(at);
    set_if(value, view.begun && !view.elapsed, view.deadline_ms);
}

GET(latest_start)
{
    struct floor_view view = floor_of(at);
    set_if(value, view.begun && !view.elapsed && !view.met, view.latest_start_ms);
}

static const struct value_row floor_rows[] = {
    {.key = "measure", .kind = VALUE_WORD, .words = "time,energy,satisfied", .get = get_measure},
    {.key = "amount", .kind = VALUE_COUNT, .get = get_amount},
    {.key = "done", .kind = VALUE_COUNT, .get = get_done},
    {.key = "left", .kind = VALUE_COUNT, .get = get_left},
    {.kind = VALUE_PERCENT,
     .get = get_progress,
     .topic = "progress",
     .name = "progress",
     .topic_when = floor_has_begun,
     .slow = true},
    {.key = "met",
     .kind = VALUE_YES_NO,
     .get = get_met,
     .topic = "met",
     .name = "met",
     .topic_when = floor_has_begun},
    {.key = "due", .kind = VALUE_YES_NO, .get = get_due},
    {.key = "deadline",
     .kind = VALUE_MOMENT,
     .get = get_deadline,
     .topic = "deadline",
     .name = "deadline"},
    {.key = "latest_start", .kind = VALUE_MOMENT, .get = get_latest_start},
};
static const struct value_group floors = {GROUP_LIST, .count = count_floors, VALUE_ROWS(floor_rows),
                                          .numbered = "floor"};

/* ---- what it has learnt ------------------------------------------------------------------- */

/* The stop helper describes the house without any memory of it. */
static const struct heat_memory *heat_of(const struct place *at)
{
    return at->view->memory->loads ? load(at)->heat : NULL;
}

static int learns(const struct place *at)
{
    return heat_of(at) != NULL;
}

GET(days_learnt)
{
    set(value, heat_of(at)->days);
}

GET(held)
{
    set(value, heat_held_mj(&settings_of(at)->water, heat_of(at)) / MJ_PER_MWH);
}

GET(full)
{
    set(value, heat_full_mj(&settings_of(at)->water) / MJ_PER_MWH);
}

GET(held_percent)
{
    set(value, heat_held_percent(&settings_of(at)->water, heat_of(at)));
}

GET(worth)
{
    set_if(value, heat_knows(heat_of(at)), heat_of(at)->worth_micro);
}

static const struct value_row learnt_rows[] = {
    {.key = "days_learnt",
     .kind = VALUE_DAYS,
     .get = get_days_learnt,
     .topic = "days-learnt",
     .name = "Days learnt from",
     .slow = true},
    {.key = "held_mwh",
     .kind = VALUE_ENERGY_MWH,
     .get = get_held,
     .topic = "heat-held",
     .name = "Heat believed held",
     .slow = true},
    {.key = "full_mwh", .kind = VALUE_ENERGY_MWH, .get = get_full},
    {.key = "held_percent",
     .kind = VALUE_PERCENT,
     .get = get_held_percent,
     .topic = "heat-held-share",
     .name = "Heat believed held, of full",
     .slow = true},
    {.key = "worth_micro_per_kwh",
     .kind = VALUE_PRICE_MICRO,
     .get = get_worth,
     .topic = "heat-worth",
     .name = "Worth of a kWh stored now",
     .slow = true},
};
static const struct value_group heat = {.count = learns, VALUE_ROWS(learnt_rows)};

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
    {.key = "kind",
     .kind = VALUE_WORD,
     .words = "switched,staged,setpoint,request",
     .get = get_kind},
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
     .words = "none,manual,floor,cheap-hours,ahead,spare,probe,minimum-on",
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
    {.key = "output_detail", .kind = VALUE_TEXT, .get = get_output_detail},
    {.key = "hand", .kind = VALUE_WORD, .words = HAND_WORDS, .get = get_hand},
    {.key = "hand_left_ms", .kind = VALUE_TIME_MS, .get = get_hand_left},
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
    {.key = "holiday", .kind = VALUE_GROUP, .group = &holiday},
    {.key = "today", .kind = VALUE_GROUP, .group = &today},
    {.key = "total", .kind = VALUE_GROUP, .group = &total},
    {.key = "floors", .kind = VALUE_GROUP, .group = &floors},
    {.key = "heat", .kind = VALUE_GROUP, .group = &heat},
};
const struct value_group values_of_load = {GROUP_LIST, .count = count_loads, VALUE_ROWS(load_rows),
                                           .node = name_load, .node_pattern = "LOAD"};
