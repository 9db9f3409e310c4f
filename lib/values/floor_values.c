/* floor_values.c - what a load is to do, and what it has learnt for that: its floors, and the
 * heat that its store is believed to hold. No deadline before the clock is set. */
#include "getter.h"

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

GET_NUMBER(measure, settings_of(at)->floor[at->inner].measure);
GET_NUMBER(amount, floor_of(at).amount);
GET_NUMBER(done, floor_of(at).done);
GET_NUMBER(left, floor_of(at).left);

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

GET_NUMBER(due, floor_of(at).due);

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

/* The period before: what the household asks about in the morning. */
GET(last_deadline)
{
    struct floor_view view = floor_of(at);
    set_if(value, view.last.known, view.last.deadline_ms);
}

GET(last_met)
{
    struct floor_view view = floor_of(at);
    set_if(value, view.last.known && !view.last.blind, view.last.met);
}

GET(last_done)
{
    struct floor_view view = floor_of(at);
    set_if(value, view.last.known, view.last.done);
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
    {.key = "last_deadline", .kind = VALUE_MOMENT, .get = get_last_deadline},
    {.key = "last_met", .kind = VALUE_YES_NO, .get = get_last_met},
    {.key = "last_done", .kind = VALUE_COUNT, .get = get_last_done},
};
const struct value_group values_of_floor = {
    .form = GROUP_LIST, .count = count_floors, VALUE_ROWS(floor_rows), .numbered = "floor"};

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

GET_NUMBER(days_learnt, heat_of(at)->days);
GET_NUMBER(held, heat_held_mj(&settings_of(at)->water, heat_of(at)) / MJ_PER_MWH);
GET_NUMBER(full, heat_full_mj(&settings_of(at)->water) / MJ_PER_MWH);
GET_NUMBER(held_percent, heat_held_percent(&settings_of(at)->water, heat_of(at)));
GET_IF(worth, heat_knows(heat_of(at)), heat_of(at)->worth_micro);

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
const struct value_group values_of_heat = {.count = learns, VALUE_ROWS(learnt_rows)};
